"""How does an inspector check a packet with standard tools alone? The words and two programs."""

from __future__ import annotations

__all__ = ["CHECK_PYTHON", "CHECK_SHELL", "check_paragraphs", "check_text"]

CHECK_SHELL = r"""# check.sh
# Hashes the lines of lines.tsv again; some hundred lines a second (head -n 500 for a part).
tab=$(printf '\t') count=0 bad=0 chain=
while IFS="$tab" read -r name seq hash json; do
  [ "$name" = "$chain" ] || before=$(printf '%064d' 0)
  if [ -z "$json" ] && [ "${name#register/}" != "$name" ]; then
    chain=$name before=$hash count=$((count + 1)); continue
  fi
  made=$({ printf '01%s' "$before" | xxd -r -p; printf '%s' "$json"; } | sha256sum)
  if [ "${made%% *}" != "$hash" ] && ! grep -qF "\"of_hash\":\"$hash\"" lines.tsv; then
    echo "line $seq of $name is not as it was written"; bad=1
  fi
  chain=$name before=$hash count=$((count + 1))
done < lines.tsv
[ "$bad" = 0 ] && echo "all is well: $count lines"
# end of check.sh
"""

CHECK_PYTHON = r"""# check.py
import hashlib, json
chain, before, ends, stones, bad = None, b"", {}, set(), []
for row in open("lines.tsv", encoding="utf-8", newline="\n"):
    name, seq, digest, text = row.rstrip("\n").split("\t", 3)
    start = before if name == chain else bytes(32)
    shown = text or not name.startswith("register/")
    if shown and hashlib.sha256(b"\x01" + start + text.encode()).hexdigest() != digest:
        bad.append((digest, f"line {seq} of {name} is not as it was written"))
    if name == "tombstone":
        stones.add(json.loads(text)["of_hash"])
    chain, before, ends[name] = name, bytes.fromhex(digest), f"{name}\t{seq}\t{digest}\n"
heads = open("heads.tsv", encoding="utf-8", newline="\n").read()
wrong = [said for digest, said in bad if digest not in stones]
wrong += [f"{name} does not end as heads.tsv says" for name in ends if ends[name] not in heads]
print("\n".join(wrong) or "all is well, root " + hashlib.sha256(heads.encode()).hexdigest())
raise SystemExit(bool(wrong))
# end of check.py
"""


def check_paragraphs(pdf_name: str, root: str) -> list[str]:
    """What the packet is checked by, a paragraph each."""
    return [
        f"1. The files. Unpack the ZIP into the folder that holds {pdf_name}, and there run:"
        " sha256sum -c MANIFEST.sha256. It names the PDF and every file of the ZIP but itself.",
        "2. The root. A record has one hash over all that it holds, its root: the SHA-256 of one"
        " line a chain, sorted by name, each 'chain TAB number of its last line TAB that line's"
        " hash' and a line feed, the chain 'seal' left out. These lines are heads.tsv, so that"
        f" sha256sum heads.tsv must say {root}. The root goes out with a week's digest: compare it"
        " with one that you or somebody else was sent, or ask the record's owner to run"
        " dueward verify.",
        "3. The lines. lines.tsv holds the lines of the chains that this packet rests on: the"
        " entries of each unit, the register (sites, calendars, units, people, reports, actions,"
        " reviews), the rule books, the holidays, the attached files and the tombstones; each"
        " 'chain TAB number TAB hash TAB content'. A line's hash is the SHA-256 over the byte"
        " 0x01, the 32 bytes of the hash of the line before (32 zero bytes before a chain's first)"
        " and the content in UTF-8. A line changed, left out or put in does not fit the next one's"
        " hash, nor the chain's end in heads.tsv. Lines of the register that speak of other sites"
        " and their people have no content here, only the hash that the next line hangs on."
        " Where content was removed after its retention,"
        " a line of the chain 'tombstone' tells the hash that stood there (of_hash).",
        "Either program below checks the lines, the second also the ends and the root. They stand"
        " in CHECK.txt too; take them out with: sed -n '/^# check.sh/,/^# end of check.sh/p'"
        " CHECK.txt > check.sh and the same with check.py; run sh check.sh or python3 check.py.",
    ]


def check_text(pdf_name: str, root: str) -> str:
    """The text of CHECK.txt."""
    words = "\n\n".join(check_paragraphs(pdf_name, root))
    return (
        "How to check this packet with standard tools alone\n\n"
        f"{words}\n\n"
        "In the CSV files a text that begins with = + - @ or TAB has a ' before it, so that no\n"
        "spreadsheet takes it for a formula; lines.tsv holds it as it was written.\n\n"
        f"{CHECK_SHELL}\n{CHECK_PYTHON}"
    )
