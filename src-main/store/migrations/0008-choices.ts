/** Schema version 8: what people chose and want to find again. Frozen; imports nothing. */
export const choices = {
  version: 8,
  name: 'choices',
  sql: `
-- What "usable" means for a campaign: limits and weighting. No row: the usual ones. id is that of the campaign.
CREATE TABLE judgement (
  id INTEGER PRIMARY KEY REFERENCES campaign (id),
  chosen TEXT NOT NULL CHECK (json_valid(chosen)),
  at TEXT NOT NULL
) STRICT;

-- Plans of runs under a name, to be used for other displays. One that was deleted keeps its row until the name is used again.
CREATE TABLE plan_template (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE,
  plan TEXT NOT NULL CHECK (json_valid(plan)),
  at TEXT NOT NULL,
  deleted INTEGER NOT NULL DEFAULT 0 CHECK (deleted IN (0, 1))
) STRICT;
`,
} as const
