/** Schema version 3. Frozen: later changes are later migrations. Imports nothing, so its meaning can never change. */
export const hiddenSweeps = {
  version: 3,
  name: 'hidden-sweeps',
  sql: `
-- A sweep that was taken back: lists leave it out, its captures stay, and it can be put back.
ALTER TABLE sweep ADD COLUMN hidden INTEGER NOT NULL DEFAULT 0 CHECK (hidden IN (0, 1));
CREATE INDEX sweep_hidden ON sweep (id) WHERE hidden = 1;
`,
} as const
