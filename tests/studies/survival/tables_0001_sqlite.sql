CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL,
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
CREATE TABLE site (
	site TEXT NOT NULL,
	name TEXT NOT NULL,
	county TEXT NOT NULL,
	region TEXT NOT NULL,
	country TEXT NOT NULL,
	subdivision TEXT NOT NULL,
	time_zone TEXT NOT NULL,
	open_days TEXT NOT NULL,
	latitude DOUBLE,
	longitude DOUBLE,
	postal_code TEXT NOT NULL,
	lead_email TEXT NOT NULL,
	CONSTRAINT pk_site PRIMARY KEY (site)
);
CREATE TABLE weekly_pattern (
	site TEXT NOT NULL,
	from_on DATE NOT NULL,
	open_days TEXT NOT NULL,
	CONSTRAINT pk_weekly_pattern PRIMARY KEY (site, from_on),
	CONSTRAINT fk_weekly_pattern_site_site FOREIGN KEY(site) REFERENCES site (site)
);
CREATE TABLE holiday (
	site TEXT NOT NULL,
	country TEXT NOT NULL,
	subdivision TEXT NOT NULL,
	"on" DATE NOT NULL,
	name TEXT NOT NULL,
	CONSTRAINT pk_holiday PRIMARY KEY (site, country, subdivision, "on")
);
CREATE TABLE closure (
	site TEXT NOT NULL,
	from_on DATE NOT NULL,
	to_on DATE NOT NULL,
	reason TEXT NOT NULL,
	open BOOLEAN NOT NULL,
	CONSTRAINT pk_closure PRIMARY KEY (site, from_on, open)
);
CREATE TABLE unit (
	id INTEGER NOT NULL,
	property_number TEXT NOT NULL,
	kind TEXT NOT NULL,
	manufacturer TEXT NOT NULL,
	model TEXT NOT NULL,
	serial TEXT NOT NULL,
	site TEXT NOT NULL,
	in_service_on DATE NOT NULL,
	retired_on DATE,
	record_from_on DATE,
	CONSTRAINT pk_unit PRIMARY KEY (id),
	CONSTRAINT uq_unit_property_number UNIQUE (property_number),
	CONSTRAINT fk_unit_site_site FOREIGN KEY(site) REFERENCES site (site)
);
CREATE TABLE placement (
	property_number TEXT NOT NULL,
	site TEXT NOT NULL,
	from_on DATE NOT NULL,
	CONSTRAINT pk_placement PRIMARY KEY (property_number, from_on),
	CONSTRAINT fk_placement_property_number_unit FOREIGN KEY(property_number) REFERENCES unit (property_number),
	CONSTRAINT fk_placement_site_site FOREIGN KEY(site) REFERENCES site (site)
);
CREATE TABLE outage (
	property_number TEXT NOT NULL,
	from_on DATE NOT NULL,
	to_on DATE,
	reason TEXT NOT NULL,
	CONSTRAINT pk_outage PRIMARY KEY (property_number, from_on),
	CONSTRAINT fk_outage_property_number_unit FOREIGN KEY(property_number) REFERENCES unit (property_number)
);
CREATE TABLE person (
	email TEXT NOT NULL,
	name TEXT NOT NULL,
	role VARCHAR(16) NOT NULL,
	site TEXT NOT NULL,
	region TEXT NOT NULL,
	language TEXT NOT NULL,
	time_zone TEXT NOT NULL,
	deputy TEXT NOT NULL,
	CONSTRAINT pk_person PRIMARY KEY (email, role, site, region)
);
CREATE TABLE change_line (
	chain TEXT NOT NULL,
	seq INTEGER NOT NULL,
	"key" TEXT NOT NULL,
	old TEXT,
	new TEXT NOT NULL,
	initial BOOLEAN NOT NULL,
	stored_at VARCHAR(27) NOT NULL,
	"by" TEXT NOT NULL,
	source TEXT NOT NULL,
	prev_hash BLOB NOT NULL,
	hash BLOB NOT NULL,
	CONSTRAINT pk_change_line PRIMARY KEY (chain, seq)
);
CREATE TABLE rule_book (
	seq INTEGER NOT NULL,
	text TEXT NOT NULL,
	sha256 TEXT NOT NULL,
	initial BOOLEAN NOT NULL,
	stored_at VARCHAR(27) NOT NULL,
	"by" TEXT NOT NULL,
	source TEXT NOT NULL,
	prev_hash BLOB NOT NULL,
	hash BLOB NOT NULL,
	CONSTRAINT pk_rule_book PRIMARY KEY (seq)
);
CREATE TABLE holiday_year (
	country TEXT NOT NULL,
	subdivision TEXT NOT NULL,
	year INTEGER NOT NULL,
	stored_at VARCHAR(27) NOT NULL,
	names TEXT NOT NULL,
	origin TEXT NOT NULL,
	CONSTRAINT pk_holiday_year PRIMARY KEY (country, subdivision, year, stored_at)
);
CREATE TABLE entry (
	unit_id INTEGER NOT NULL,
	seq INTEGER NOT NULL,
	"key" TEXT NOT NULL,
	task TEXT NOT NULL,
	"on" DATE NOT NULL,
	to_on DATE,
	mark VARCHAR(16),
	initials TEXT NOT NULL,
	note TEXT NOT NULL,
	reading TEXT NOT NULL,
	recorded_at VARCHAR(27),
	strikes TEXT NOT NULL,
	why TEXT NOT NULL,
	stored_at VARCHAR(27) NOT NULL,
	"by" TEXT NOT NULL,
	source TEXT NOT NULL,
	prev_hash BLOB NOT NULL,
	hash BLOB NOT NULL,
	CONSTRAINT pk_entry PRIMARY KEY (unit_id, seq),
	CONSTRAINT uq_entry_key UNIQUE ("key"),
	CONSTRAINT fk_entry_unit_id_unit FOREIGN KEY(unit_id) REFERENCES unit (id)
);
CREATE INDEX ix_entry_strikes ON entry (strikes) WHERE strikes != '';
CREATE TABLE marked_year (
	unit_id INTEGER NOT NULL,
	task TEXT NOT NULL,
	year INTEGER NOT NULL,
	marked BLOB NOT NULL,
	done BLOB NOT NULL,
	extra BLOB,
	CONSTRAINT pk_marked_year PRIMARY KEY (unit_id, task, year),
	CONSTRAINT fk_marked_year_unit_id_unit FOREIGN KEY(unit_id) REFERENCES unit (id)
)
 WITHOUT ROWID;
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'append-only: a line of entry is never changed or removed'); END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'append-only: a line of entry is never changed or removed'); END;
CREATE TRIGGER entry_no_replace BEFORE INSERT ON entry WHEN EXISTS (SELECT 1 FROM entry WHERE key = NEW.key) OR EXISTS (SELECT 1 FROM entry WHERE unit_id = NEW.unit_id AND seq = NEW.seq) BEGIN SELECT RAISE(ABORT, 'append-only: a line of entry is never changed or removed'); END;
CREATE TRIGGER change_line_no_update BEFORE UPDATE ON change_line BEGIN SELECT RAISE(ABORT, 'append-only: a line of change_line is never changed or removed'); END;
CREATE TRIGGER change_line_no_delete BEFORE DELETE ON change_line BEGIN SELECT RAISE(ABORT, 'append-only: a line of change_line is never changed or removed'); END;
CREATE TRIGGER change_line_no_replace BEFORE INSERT ON change_line WHEN EXISTS (SELECT 1 FROM change_line WHERE chain = NEW.chain AND seq = NEW.seq) BEGIN SELECT RAISE(ABORT, 'append-only: a line of change_line is never changed or removed'); END;
CREATE TRIGGER rule_book_no_update BEFORE UPDATE ON rule_book BEGIN SELECT RAISE(ABORT, 'append-only: a line of rule_book is never changed or removed'); END;
CREATE TRIGGER rule_book_no_delete BEFORE DELETE ON rule_book BEGIN SELECT RAISE(ABORT, 'append-only: a line of rule_book is never changed or removed'); END;
CREATE TRIGGER rule_book_no_replace BEFORE INSERT ON rule_book WHEN EXISTS (SELECT 1 FROM rule_book WHERE seq = NEW.seq) BEGIN SELECT RAISE(ABORT, 'append-only: a line of rule_book is never changed or removed'); END;
