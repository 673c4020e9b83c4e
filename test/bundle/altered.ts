/** Bundles in which someone altered one byte of a trace, of the recipe or of a published value, and covered it up. */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { METADATA } from '#main/publish/bundle/crate.ts'
import { filesBelow, MANIFEST, manifestText, sha256Of } from '#main/publish/bundle/manifest.ts'
import { verifyFolder } from '#main/publish/bundle/verify.ts'
import { metadataText, writeBundle } from '#main/publish/bundle/write.ts'
import type { BundleCapture, BundleExtra, VerifyProblem } from '#shared/domain/bundle.ts'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { inventedCaptures, inventedEvidence, streamed, SUBJECT } from './invented.ts'

export const measure = async (input: Parameters<typeof measureCapture>[0]) => measureCapture(input)

/** Hashes of manifest and metadata written anew, so that only the content can give an alteration away. */
export async function coverUp(folder: string, extras: readonly BundleExtra[]): Promise<void> {
  writeFileSync(join(folder, METADATA), await metadataText(folder, SUBJECT, extras))
  const hashes = new Map<string, string>()
  for (const path of await filesBelow(folder))
    if (path !== MANIFEST) hashes.set(path, await sha256Of(join(folder, path)))
  writeFileSync(join(folder, MANIFEST), manifestText(hashes))
}

export interface Altered {
  readonly what: string
  readonly file: string
  /** How a problem that names the number begins. */
  readonly named: RegExp
  readonly problems: readonly VerifyProblem[]
}

const KINDS = ['trace', 'recipe', 'results.csv', 'results.parquet', 'findings', 'report', 'figure'] as const

/** Alters `count` copies of an invented bundle, each in one place drawn by lot, and verifies each. */
export async function alterAndVerify(count: number, seed: number): Promise<{ altered: Altered[]; sound: number }> {
  const home = mkdtempSync(join(tmpdir(), 'slewlight-altered-'))
  try {
    const random = seededRandom(seed)
    const below = (n: number): number => Math.floor(random() * n)
    const captures = inventedCaptures()
    const evidence = await inventedEvidence(captures)
    const sound = join(home, 'sound')
    await writeBundle(sound, SUBJECT, streamed(captures), evidence)
    const altered: Altered[] = []
    for (let turn = 0; turn < count; turn++) {
      const folder = join(home, `altered-${turn}`)
      cpSync(sound, folder, { recursive: true })
      const done = await alter(folder, KINDS[turn % KINDS.length] ?? 'trace')
      await coverUp(folder, evidence)
      const { problems } = await verifyFolder(folder, { measure })
      altered.push({ ...done, problems })
      rmSync(folder, { recursive: true, force: true })
    }
    return { altered, sound: (await verifyFolder(sound, { measure })).problems.length }

    async function alter(folder: string, kind: (typeof KINDS)[number]): Promise<Omit<Altered, 'problems'>> {
      if (kind === 'trace' || kind === 'results.parquet') return alterTable(folder, kind)
      if (kind === 'recipe') return alterText(folder, 'recipe.json', /[\d.]+|(?<=": ")[a-z-]+/g, /./)
      if (kind === 'results.csv') return alterText(folder, 'data/results.csv', /(?<=,)\d+\.\d+(?=,)/g, /^row \d+, \w+$/)
      if (kind === 'findings')
        return alterText(
          folder,
          'data/findings.json',
          /(?<="(?:value|u|dof|shared|u95)": )[\d.]+/g,
          /figures\.\w+\.\w+$/,
        )
      if (kind === 'figure')
        return alterText(folder, 'figures/overview-duration-mean.csv', /(?<=,)\d+\.\d+(?=[,\r])/g, /^after “/)
      return alterText(folder, 'report.html', /(?<=>[^<>]*)\d+\.\d+(?=[^<>]*<)/g, /^after “/)
    }

    /** One digit of one number becomes another, or one letter. */
    function alterText(folder: string, path: string, values: RegExp, named: RegExp): Omit<Altered, 'problems'> {
      const file = join(folder, path)
      const text = readFileSync(file, 'utf8')
      const found = [...text.matchAll(values)]
      const match = found[below(found.length)]
      if (match === undefined) throw new Error(`no value in ${path}`)
      const digits = [...match[0].matchAll(/[\da-z]/g)].map(({ index }) => index)
      const at = match.index + (digits[below(digits.length)] ?? 0)
      const old = text[at] ?? ''
      const now = /\d/.test(old) ? String((Number(old) + 1 + below(9)) % 10) : old === 'x' ? 'y' : 'x'
      writeFileSync(file, `${text.slice(0, at)}${now}${text.slice(at + 1)}`)
      return { what: `“${match[0]}”, “${old}” becomes “${now}”`, file: path, named }
    }

    /** One byte of one sample, or of one published number, in a table written anew. */
    async function alterTable(folder: string, kind: 'trace' | 'results.parquet'): Promise<Omit<Altered, 'problems'>> {
      const chosen = captures[below(captures.length)] as BundleCapture
      const id = chosen.captureId
      const { capture, what } = kind === 'trace' ? withSample(chosen) : withNumber(chosen)
      const other = join(folder, '..', 'other')
      const all = captures.map((one) => (one.captureId === id ? capture : one))
      await writeBundle(other, SUBJECT, streamed(all), [])
      const file = kind === 'trace' ? 'data/traces.parquet' : 'data/results.parquet'
      cpSync(join(other, file), join(folder, file))
      rmSync(other, { recursive: true, force: true })
      return { what: `capture ${id}, ${what}`, file, named: new RegExp(`^capture ${id}(, |$)`) }
    }

    function withSample(capture: BundleCapture): { capture: BundleCapture; what: string } {
      const samples = Int16Array.from(capture.trace.samples)
      const bytes = new Uint8Array(samples.buffer)
      const at = below(bytes.length)
      bytes[at] = (bytes[at] ?? 0) ^ (1 + below(255))
      const trace = { ...capture.trace, format: 'int16', samples } as const
      return { capture: { ...capture, trace }, what: `byte ${at} of its samples` }
    }

    function withNumber(capture: BundleCapture): { capture: BundleCapture; what: string } {
      const { result } = capture
      const ids = MEASURE_IDS.filter((id) => typeof result?.values[id] === 'number' && result.values[id] !== 0)
      const id = ids[below(ids.length)]
      if (result === null || id === undefined) throw new Error('nothing is published of it')
      const number = Float64Array.of(result.values[id] ?? 0)
      const bytes = new Uint8Array(number.buffer)
      const at = below(7)
      bytes[at] = (bytes[at] ?? 0) ^ (1 + below(255))
      const values = { ...result.values, [id]: number[0] ?? 0 }
      return { capture: { ...capture, result: { ...result, values } }, what: `byte ${at} of ${id}` }
    }
  } finally {
    rmSync(home, { recursive: true, force: true })
  }
}

/** Whether the altered file is told of with the number. */
export const isNamed = ({ file, named, problems }: Altered): boolean =>
  problems.some((one) => (one.file === file || one.file === 'data/results.csv') && named.test(one.place)) ||
  // A table of results that says something else than its CSV is told there, by row and column.
  (file === 'data/results.parquet' && problems.some((one) => one.file === 'data/results.csv'))
