/** The record on the command line: adding from files, what is still needed, and what it says of a display. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { srgbToLight } from '../support/transfer-functions.ts'
import { openTestStore } from '../store/fixtures.ts'
import { noArchive, run } from './in-process.ts'

const folder = mkdtempSync(join(tmpdir(), 'slewlight-record-'))
const archive = join(folder, 'archive.sqlite')
const host = { ...noArchive, openStore: (path: string) => openTestStore(path) }
async function at(...args: string[]): Promise<{ code: number; stdout: string; stderr: string }> {
  const { code, out, err } = await run([...args, '--archive', archive], host)
  return { code, stdout: out, stderr: err }
}
const file = (name: string, text: string): string => {
  writeFileSync(join(folder, name), text)
  return join(folder, name)
}

/** A perfect sRGB display of 120 cd/m² by its published matrix: IEC 61966-2-1. */
const MATRIX = [
  [0.4124564, 0.3575761, 0.1804375],
  [0.2126729, 0.7151522, 0.072175],
  [0.0193339, 0.119192, 0.9503041],
] as const
function perfectPatches(white = 120): string {
  const codes = [
    ...[0, 51, 102, 153, 204, 255].map((grey) => [grey, grey, grey]),
    [255, 0, 0],
    [0, 255, 0],
    [0, 0, 255],
  ]
  const rows = codes.map((rgb, i) => {
    const light = rgb.map((code) => srgbToLight(code / 255))
    const xyz = MATRIX.map((row) => row.reduce((sum, part, k) => sum + part * (light[k] as number), 0) * white)
    return [i + 1, ...rgb, ...xyz].join(' ')
  })
  return `CGATS.17\nORIGINATOR "invented"\nBEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R RGB_G RGB_B XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\nBEGIN_DATA\n${rows.join('\n')}\nEND_DATA\n`
}

interface Shown {
  readonly quantities: readonly {
    readonly id: string
    readonly state: string
    readonly missing: readonly string[]
    readonly figures: readonly {
      readonly label: string
      readonly value: number
      readonly u95: number | null
      readonly bound?: string
    }[]
  }[]
}
async function shown(...args: string[]): Promise<Shown['quantities']> {
  const { code, stdout, stderr } = await at('record', 'show', 'Invented display', '--json', ...args)
  if (code !== 0) throw new Error(stderr)
  return (JSON.parse(stdout) as Shown).quantities
}
const valueOf = (quantities: Shown['quantities'], id: string, label: RegExp) =>
  quantities.find((quantity) => quantity.id === id)?.figures.find((figure) => label.test(figure.label))

beforeAll(async () => {
  const store = await openTestStore(archive)
  await store.createCampaign({ name: 'Invented display', display: '', note: '' })
  await store.close()
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('record', () => {
  it('says what each kind takes, without an archive', async () => {
    const kinds = await run(['record', 'kinds'])
    expect(kinds.code).toBe(0)
    expect(kinds.out).toContain('colour-patches: Colour patches\n  columns: r, g, b, x (cd/m²), y (cd/m²), z (cd/m²)')
    expect((await run(['record', 'show'])).code).toBe(2)
  })

  it('begins with everything missing, then finds a perfect sRGB display perfect', async () => {
    expect(new Set((await shown()).map(({ state }) => state))).toEqual(new Set(['missing']))
    const added = await at(
      'record',
      'add',
      'Invented display',
      'colour-patches',
      file('p.txt', perfectPatches()),
      '--label',
      'As delivered',
    )
    expect(added.stderr + added.stdout).toContain('9 rows of colour patches')
    const quantities = await shown()
    expect(quantities.find(({ id }) => id === 'colour')?.state).toBe('measured')
    expect(valueOf(quantities, 'colour', /ΔE 2000/)?.value).toBeLessThan(0.01)
    // The matrix is rounded; its white is 0.3127, 0.3290 to four digits.
    expect(Math.abs((valueOf(quantities, 'colour', /temperature/)?.value ?? 0) - 6504)).toBeLessThan(3)
    expect(valueOf(quantities, 'colour', /^sRGB covered/)?.value).toBeCloseTo(100, 1)
    expect(valueOf(quantities, 'colour', /^Display P3 covered/)?.value).toBeCloseTo(79.64, 1)
    // Against P3 the same display is off, and says so.
    expect(valueOf(await shown('--target', 'display-p3'), 'colour', /^Patches, mean ΔE 2000/)?.value).toBeGreaterThan(1)
  })

  it('makes gamma, contrast and uniformity of typed tables, and a bound where black cannot be seen', async () => {
    const ladder = [0, 51, 102, 153, 204, 255].map(
      (code) => `${code},${(code === 0 ? 0 : 240 * (code / 255) ** 2.2).toFixed(6)}`,
    )
    await at(
      'record',
      'add',
      'Invented display',
      'luminance-ladder',
      file('l.csv', `code,luminance\n${ladder.join('\n')}\n`),
      '--u',
      '0.05',
    )
    await at('record', 'add', 'Invented display', 'uniformity', file('u.csv', '180\t190\t185\n'), '--u', '1')
    const nine = file('u9.csv', [180, 190, 185, 188, 200, 192, 176, 189, 182].join('\n'))
    expect((await at('record', 'add', 'Invented display', 'uniformity', nine)).code).toBe(0)
    const quantities = await shown()
    expect(valueOf(quantities, 'ladder', /^Gamma/)?.value).toBeCloseTo(2.2, 4)
    // Half of a normal distribution of 0.05 cd/m²: its 95 % quantile is 1.95996 u.
    expect(valueOf(quantities, 'ladder', /^Contrast/)).toMatchObject({ bound: 'at-least' })
    expect(valueOf(quantities, 'ladder', /^Contrast/)?.value).toBeCloseTo(240 / (0.05 * 1.959964), 1)
    expect(valueOf(quantities, 'uniformity', /over brightest/)?.value).toBeCloseTo(88, 6)
  })

  it('refuses what it cannot read, with the place, and stores nothing of it', async () => {
    const before = (await shown()).flatMap(({ figures }) => figures).length
    for (const [kind, text, message] of [
      ['uniformity', '1\n2\n3\n', '3 rows, and it takes 9 or 25'],
      ['luminance-ladder', 'code;luminance\n0;0,5\n', 'Write numbers with a point'],
      ['luminance-ladder', 'code,luminance\n300,5\n', 'Grey level in row 1 is 300'],
      ['colour-patches', 'a,b\n1,2\n', 'Needed are r (R)'],
      ['nonsense', '1', 'There is no kind “nonsense”'],
    ] as const) {
      const { code, stderr } = await at('record', 'add', 'Invented display', kind, file('bad.csv', text))
      expect([kind, code === 0]).toEqual([kind, false])
      expect(stderr).toContain(message)
    }
    expect((await shown()).flatMap(({ figures }) => figures)).toHaveLength(before)
  })

  it('tells the display’s own delay from the host’s by a reference run', async () => {
    const golden = (i: number): number => ((i * 0.6180339887) % 1) * (1000 / 60)
    const events = (more: number): string =>
      ['refresh,delay', ...Array.from({ length: 200 }, (_, i) => `60,${(more + golden(i)).toFixed(4)}`)].join('\n')
    await at('record', 'add', 'Invented display', 'input-latency', file('d.csv', events(11)))
    const without = await shown()
    expect(without.find(({ id }) => id === 'latency')).toMatchObject({
      state: 'partly',
      missing: [expect.stringContaining('reference run')],
    })
    await at('record', 'add', 'Invented display', 'input-latency-reference', file('r.csv', events(3)))
    const signal = valueOf(await shown(), 'latency', /^Signal delay with response to/)
    expect(signal?.value).toBeCloseTo(8, 3)
    expect(signal?.u95).toBeGreaterThan(0.5)
    expect(valueOf(await shown(), 'latency', /and mean frame wait/)?.value).toBeCloseTo(8 + 500 / 60, 3)
  })

  it('writes the newest patches as CGATS, which read back alike', async () => {
    const out = join(folder, 'out.txt')
    expect((await at('record', 'export', 'Invented display', '--out', out)).code).toBe(0)
    expect(readFileSync(out, 'utf8')).toContain('RGB_R')
    const before = valueOf(await shown(), 'colour', /ΔE ITP/)?.value
    expect((await at('record', 'add', 'Invented display', 'colour-patches', out, '--label', 'As delivered')).code).toBe(
      0,
    )
    expect(valueOf(await shown(), 'colour', /ΔE ITP/)?.value).toBe(before)
  })

  it('keeps spectra beside the colours that are made of them', async () => {
    const nm = Array.from({ length: 11 }, (_, i) => 400 + 30 * i)
    const table = `r;g;b;${nm.join(';')}\n255;255;255;${nm.map((one) => one / 1e5).join(';')}\n`
    const added = await at('record', 'add', 'Invented display', 'colour-patches', file('s.csv', table), '--json')
    expect(JSON.parse(added.stdout)).toMatchObject({ rows: 1, spectra: 1 })
    const { stdout } = await at('record', 'readings', 'Invented display', '--json')
    const { readings } = JSON.parse(stdout) as { readings: { kind: string; series: number[] }[] }
    expect(readings.find(({ kind }) => kind === 'colour-spectra')?.series).toEqual(
      nm.flatMap((one) => [1, one, one / 1e5]),
    )
  })
})
