/** Schema version 9: the rig's second channel of an input event. Frozen; imports nothing. */
export const secondChannel = {
  version: 9,
  name: 'second-channel',
  sql: `
-- As many samples as \`samples\`, of the same format, scale and rate; NULL where the rig recorded one channel.
ALTER TABLE latency_event ADD COLUMN second_samples BLOB;
`,
} as const
