"""Where do counties have their boundaries? A file a state; `NOTICE.txt` names the source."""
