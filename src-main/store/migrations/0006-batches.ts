/** Schema version 6: one decision on many captures, and flags accepted for a sweep. Frozen; imports nothing. */
export const batches = {
  version: 6,
  name: 'batches',
  sql: `
-- Number of the first of the reviews that one command made; NULL for a review of its own. Undone and redone together.
ALTER TABLE review ADD COLUMN batch INTEGER;
CREATE INDEX review_by_batch ON review (batch) WHERE batch IS NOT NULL;

-- A flag that a person accepts for a sweep, with the reason: its captures are not doubtful for it any more.
CREATE TABLE accepted_flag (
  id INTEGER PRIMARY KEY,
  sweep_id INTEGER NOT NULL REFERENCES sweep (id),
  flag TEXT NOT NULL,
  reason TEXT NOT NULL,
  reviewer TEXT NOT NULL,
  at TEXT NOT NULL,
  withdrawn_at TEXT
) STRICT;
CREATE UNIQUE INDEX accepted_flag_once ON accepted_flag (sweep_id, flag) WHERE withdrawn_at IS NULL;
CREATE TRIGGER accepted_flag_kept BEFORE DELETE ON accepted_flag
  BEGIN SELECT RAISE(ABORT, 'accepted flags are withdrawn, never deleted'); END;
`,
} as const
