
-- Notes and reviews share their numbers: no number is in both, and the greater is the later step.
-- The note of a capture is its newest that stands; an empty text takes it away. undone as in review.
CREATE TABLE note (
  id INTEGER PRIMARY KEY,
  capture_id INTEGER NOT NULL REFERENCES capture (id),
  text TEXT NOT NULL,
  reviewer TEXT NOT NULL,
  at TEXT NOT NULL,
  undone INTEGER NOT NULL DEFAULT 0 CHECK (undone IN (0, 1, 2))
) STRICT;
CREATE INDEX note_by_capture ON note (capture_id);
CREATE INDEX note_undone ON note (undone, id);
CREATE TRIGGER note_kept BEFORE DELETE ON note BEGIN SELECT RAISE(ABORT, 'notes are never deleted'); END;
CREATE TRIGGER note_fixed BEFORE UPDATE OF id, capture_id, text, reviewer, at ON note
  BEGIN SELECT RAISE(ABORT, 'notes are never changed'); END;

-- Captures that were taken again are few: this finds them without a walk through all.
CREATE INDEX capture_retaken ON capture (sweep_id, position, round) WHERE round > 0;
