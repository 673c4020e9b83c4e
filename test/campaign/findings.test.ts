/** Findings of invented campaigns against those an independent program draws from the model's noise-free transitions. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { CampaignContent } from '#main/core/campaign/findings.ts'
import { againstTruth } from './against-truth.ts'
import { hasScipy } from '../reference/tools.ts'
import { inventedDisplay, makeLibrary, trueFindings, type Grid, type TrueFindings } from './library.ts'
import { OVERSHOOT_LIMITS, ranksAgainstTruth } from './studied.ts'

const GRID: Grid = { settings: ['Gentle', 'Strong'], refreshHz: [60, 165], levels: [0, 77, 166, 255], repeats: 5 }
const DISPLAYS = [
  inventedDisplay('A', 'swift', 11, GRID),
  inventedDisplay('B', 'swift', 12, GRID),
  inventedDisplay('C', 'plain', 21, GRID),
]

describe.runIf(hasScipy())('a library of three invented displays', () => {
  const home = mkdtempSync(join(tmpdir(), 'slewlight-campaign-'))
  let contents: CampaignContent[] = []
  let truths: TrueFindings[] = []
  beforeAll(async () => {
    contents = (await makeLibrary(join(home, 'library.sqlite'), DISPLAYS, 1)).contents
    truths = DISPLAYS.map((display) => trueFindings(display, OVERSHOOT_LIMITS))
  })
  afterAll(() => rmSync(home, { recursive: true, force: true }))

  it('has the usable ranges and the answer of the truth', () => {
    contents.forEach(({ sweeps }, i) => {
      const points = sweeps.map(({ point }) => point)
      const score = againstTruth(points, truths[i] as TrueFindings, OVERSHOOT_LIMITS)
      expect(score.wrong).toEqual([])
      expect(score.open).toEqual([])
      expect(score.sameSpans).toBe(true)
      expect(score.sameWhole).toBe(true)
    })
    // Not all alike: otherwise the same answer would say little.
    expect(new Set(truths.map(({ spans }) => JSON.stringify(spans))).size).toBeGreaterThan(1)
  })

  it('tells means whose U95 holds the truth in at least 93 of 100', () => {
    const means = contents.flatMap(({ sweeps }, i) =>
      againstTruth(
        sweeps.map(({ point }) => point),
        truths[i] as TrueFindings,
      ).figures.filter(({ figure }) => figure.endsWith('_mean')),
    )
    const sum = (pick: (one: (typeof means)[number]) => number): number => means.reduce((n, one) => n + pick(one), 0)
    expect(sum(({ all }) => all)).toBeGreaterThan(50)
    expect(sum(({ within }) => within) / sum(({ all }) => all)).toBeGreaterThanOrEqual(0.93)
  })

  it('ranks two displays that differ in noise alone alike, and the third apart', () => {
    const { comparison, right, wrong } = ranksAgainstTruth(DISPLAYS, contents, truths, {
      kind: 'fastest-usable',
      refreshHz: 165,
    })
    expect(wrong).toEqual([])
    expect(right).toBe(2)
    expect(comparison.entries.at(-1)?.name).toBe('Invented display C')
  })
})
