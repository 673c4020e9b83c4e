/** `npm run killed`: a campaign of 576 captures, killed at thirty random moments. Writes assets/killed.md. Ten minutes. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { runKilled, type KilledCampaign } from './killed.ts'

const campaign: KilledCampaign = {
  settings: ['Off', 'Gentle', 'Strong', 'Extreme'],
  refreshHz: [60, 120, 165],
  repeats: 8,
  speed: 8,
  kills: 30,
  atMostMs: 200,
  seed: 20_301_129,
}
const folder = mkdtempSync(join(tmpdir(), 'slewlight-killed-'))
try {
  const { captures, storedAtKill, problems } = await runKilled(folder, campaign)
  const told = problems.length === 0 ? 'Nothing was lost, doubled or changed.' : problems.join('\n')
  console.log(`${captures} captures; stored at each kill: ${storedAtKill.join(' ')}\n${told}`)
  writeFileSync(
    new URL('../../assets/killed.md', import.meta.url),
    `# A campaign whose process is killed

Made by \`npm run killed\`: \`slewlight campaign-run\` on the simulated rig, four settings × three refresh rates, ${captures} captures, killed by SIGKILL ${campaign.kills} times at random moments (each after a number of stored captures drawn evenly over the campaign, at least one more than at the kill before, and up to ${campaign.atMostMs} ms; at ${campaign.speed} times real time) and taken up again with \`--resume\`. After each kill every capture stored before is looked for, its samples compared by SHA-256; at the end every planned capture must be there once.

Captures stored at each kill: ${storedAtKill.join(', ')}; at the end: ${captures}.

${told}
`,
  )
  process.exitCode = problems.length === 0 ? 0 : 1
} finally {
  rmSync(folder, { recursive: true, force: true })
}
