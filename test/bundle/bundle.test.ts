import { EXTRACT } from '#main/core/campaign/extract.ts'
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { DuckDBInstance } from '@duckdb/node-api'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { checkManifest, filesBelow, MANIFEST, manifestText, sha256Of } from '#main/publish/bundle/manifest.ts'
import { verifyFolder } from '#main/publish/bundle/verify.ts'
import { writeBundle } from '#main/publish/bundle/write.ts'
import type { BundleExtra, VerifyReport } from '#shared/domain/bundle.ts'
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { alterAndVerify, coverUp, isNamed } from './altered.ts'
import { inventedCaptures, inventedEvidence, streamed, SUBJECT } from './invented.ts'

const home = mkdtempSync(join(tmpdir(), 'slewlight-bundle-'))
const bundle = join(home, 'bundle')
const captures = inventedCaptures()
let evidence: BundleExtra[] = []
const measure = async (input: Parameters<typeof measureCapture>[0]) => measureCapture(input)
const verify = (folder: string): Promise<VerifyReport> => verifyFolder(folder, { measure })

beforeAll(async () => {
  evidence = await inventedEvidence(captures)
  await writeBundle(bundle, SUBJECT, streamed(captures), evidence)
})
afterAll(() => rmSync(home, { recursive: true, force: true }))

let copies = 0
function copy(): string {
  copies += 1
  const folder = join(home, `copy-${copies}`)
  cpSync(bundle, folder, { recursive: true })
  return folder
}

/** What someone does who alters a file and covers it up. */
async function rewriteManifest(folder: string): Promise<void> {
  const hashes = new Map<string, string>()
  for (const path of await filesBelow(folder))
    if (path !== MANIFEST) hashes.set(path, await sha256Of(join(folder, path)))
  writeFileSync(join(folder, MANIFEST), manifestText(hashes))
}

describe('a bundle', () => {
  it('is accepted: every trace measured again, every number compared', async () => {
    const { captures: checked, numbers, problems } = await verify(bundle)
    expect(problems).toEqual([])
    expect(checked).toBe(captures.length)
    expect(numbers).toBeGreaterThan(captures.length * 50)
  })

  it('is made again byte for byte', async () => {
    const again = join(home, 'again')
    await writeBundle(again, SUBJECT, streamed(captures), evidence)
    expect(readFileSync(join(again, MANIFEST), 'utf8')).toBe(readFileSync(join(bundle, MANIFEST), 'utf8'))
  })

  it('holds every figure as SVG, CSV and PNG of two pixels for one, listed in the metadata', async () => {
    const files = await filesBelow(bundle)
    const names = files.filter((path) => /^figures\/.*\.svg$/.test(path)).map((path) => path.slice(0, -4))
    expect(names.length).toBeGreaterThan(4)
    const metadata = readFileSync(join(bundle, 'ro-crate-metadata.json'), 'utf8')
    for (const name of names) {
      const svg = readFileSync(join(bundle, `${name}.svg`), 'utf8')
      // A file of its own: no name of a colour or font is left to a page.
      expect(svg).not.toMatch(/var\(|currentColor|inherit/)
      const png = readFileSync(join(bundle, `${name}.png`))
      const sizeOf = (side: string) => 2 * Number(new RegExp(`<svg[^>]* ${side}="([\\d.]+)"`).exec(svg)?.[1])
      for (const [at, side] of [
        [16, 'width'],
        [20, 'height'],
      ] as const)
        expect(Math.abs(png.readUInt32BE(at) - sizeOf(side)), `${name} ${side}`).toBeLessThanOrEqual(1)
      for (const ending of ['svg', 'csv', 'png']) expect(metadata).toContain(`"${name}.${ending}"`)
    }
    expect(readFileSync(join(bundle, 'figures/overview-duration-mean.csv'), 'utf8')).toMatch(
      /^setting,refresh_hz,duration_mean_s,u95_s\r\n/,
    )
    // Drawn again it is the same, byte for byte.
    const again = new Map((await inventedEvidence(captures)).map(({ path, bytes }) => [path, bytes]))
    for (const name of names)
      expect(readFileSync(join(bundle, `${name}.png`)).equals(again.get(`${name}.png`)!)).toBe(true)
  })

  it('names a picture that is not that of its figure, also behind new hashes', async () => {
    const folder = copy()
    const [one, other] = ['figures/overview-duration-mean.png', 'figures/overview-overshoot-mean.png']
    cpSync(join(folder, other), join(folder, one))
    await coverUp(folder, evidence)
    expect((await verify(folder)).problems).toEqual([
      { file: one, place: '', problem: 'It is not the picture of its SVG.' },
    ])
  })

  it('is there whole or not at all', async () => {
    const folder = join(home, 'stopped')
    const stop = new AbortController()
    stop.abort()
    await expect(writeBundle(folder, SUBJECT, streamed(captures), [], stop.signal)).rejects.toMatchObject({
      code: 'cancelled',
    })
    expect(existsSync(folder) || existsSync(`${folder}.partial`)).toBe(false)
    await expect(writeBundle(bundle, SUBJECT, streamed(captures), [])).rejects.toMatchObject({ code: 'conflict' })
  })

  it('gives an independent reader the raw traces', async () => {
    const db = await (await DuckDBInstance.create(':memory:')).connect()
    const rows = async (sql: string) => (await db.runAndReadAll(sql)).getRowObjectsJson()
    const [first] = await rows(
      `select len(codes) n, codes[1] head, list_sum(codes) total from '${join(bundle, 'data/traces.parquet')}' where capture_id = 1`,
    )
    const samples = captures[0]?.trace.samples as Int16Array
    expect(first).toEqual({
      n: String(samples.length),
      head: samples[0],
      total: String(samples.reduce((a, b) => a + b, 0)),
    })
  })

  it('names a published number that was changed, also behind new hashes', async () => {
    const folder = copy()
    const file = join(folder, 'data/results.csv')
    const value = String(captures[3]?.result?.values.transition_duration_s)
    writeFileSync(
      file,
      readFileSync(file, 'utf8').replace(
        value,
        value.replace(/\d(?=\d{3}$)/, (d) => String((Number(d) + 1) % 10)),
      ),
    )
    await rewriteManifest(folder)
    const { problems } = await verify(folder)
    // The list of files says so too: its hash is not that of the file.
    expect(problems.map(({ file }) => file)).toEqual(['data/results.csv', 'ro-crate-metadata.json'])
    expect(problems[0]).toMatchObject({ file: 'data/results.csv', place: 'row 4, transition_duration_s' })
  })

  it('names the capture whose trace was changed, also behind new hashes', async () => {
    const folder = join(home, 'changed-trace')
    const changed = captures.map((capture) => {
      if (capture.captureId !== 5) return capture
      const samples = Int16Array.from(capture.trace.samples)
      samples[640] = (samples[640] as number) + 400
      return { ...capture, trace: { ...capture.trace, samples } }
    })
    await writeBundle(folder, SUBJECT, streamed(changed), evidence)
    const { problems } = await verify(folder)
    expect(problems.length).toBeGreaterThan(0)
    expect(problems[0]?.place).toMatch(/^capture 5, /)
    const captured = problems.filter(({ place }) => place.startsWith('capture'))
    for (const { place } of captured) expect(place).toMatch(/^capture 5, /)
    // What was drawn from it is told as well.
    expect(problems.map(({ file }) => file)).toEqual(expect.arrayContaining(['data/findings.json', 'report.html']))
  })

  it('draws the display’s record again from its readings, and names what an altered reading changes', async () => {
    const folder = join(home, 'with-record')
    await writeBundle(folder, SUBJECT, streamed(captures), await inventedEvidence(captures, { record: true }))
    expect(readFileSync(join(folder, 'report.html'), 'utf8')).toContain('Latency, light, colour, power')
    expect((await verify(folder)).problems).toEqual([])
    const file = join(folder, EXTRACT)
    const extract = JSON.parse(readFileSync(file, 'utf8')) as { readings: { kind: string; series: number[] }[] }
    const uniformity = extract.readings.find(({ kind }) => kind === 'uniformity')
    if (uniformity === undefined) throw new Error('no uniformity')
    uniformity.series[0] = 1.2 * (uniformity.series[0] ?? 0)
    writeFileSync(file, JSON.stringify(extract))
    await rewriteManifest(folder)
    const named = new Set((await verify(folder)).problems.map((problem) => problem.file))
    expect([...named]).toEqual(expect.arrayContaining(['report.html', 'figures/record-uniformity.svg']))
  })

  it('names the file in 100 of 100 copies with one altered byte anywhere', async () => {
    const seed = 20310405
    const random = seededRandom(seed)
    const manifest = readFileSync(join(bundle, MANIFEST), 'utf8')
    const files = (await filesBelow(bundle)).filter((path) => path !== MANIFEST)
    const folder = copy()
    for (let i = 0; i < 100; i++) {
      const path = files[i % files.length] as string
      const file = join(folder, path)
      const before = readFileSync(file)
      const bytes = Buffer.from(before)
      const at = Math.floor(random() * bytes.length)
      bytes[at] = (bytes[at] as number) ^ (1 << Math.floor(random() * 8))
      writeFileSync(file, bytes)
      const told = (await checkManifest(folder, manifest)).map((problem) => problem.file)
      expect(told, `seed ${seed}, turn ${i}, byte ${at} of ${path}`).toEqual([path])
      writeFileSync(file, before)
    }
  })

  it('names the number where one byte of it was altered and every hash written anew', async () => {
    const { altered, sound } = await alterAndVerify(7, 7)
    expect(sound).toBe(0)
    expect(altered.filter((one) => !isNamed(one))).toEqual([])
  })

  it('refuses files that nobody listed, that are missing or lead out', async () => {
    const folder = copy()
    writeFileSync(join(folder, 'more.txt'), 'x')
    rmSync(join(folder, 'report.html'))
    writeFileSync(
      join(folder, MANIFEST),
      `${readFileSync(join(folder, MANIFEST), 'utf8')}${'0'.repeat(64)}  ../../etc/x\n`,
    )
    const { problems } = await verify(folder)
    const told = problems.map(({ problem }) => problem)
    expect(told.slice(0, 3).sort()).toEqual([
      'A path leads out of the bundle: ../../etc/x',
      'It is missing.',
      'It is not listed in the manifest.',
    ])
    await expect(verify(join(home, 'nowhere'))).rejects.toMatchObject({ code: 'import-unreadable' })
  })
})
