/** Bundles from strangers that are none: nothing hangs, nothing is written outside, little memory and disk is taken. */
import { execFileSync } from 'node:child_process'
import { cpSync, existsSync, mkdtempSync, readdirSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { zipSync, type Zippable } from 'fflate'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { MANIFEST } from '#main/publish/bundle/manifest.ts'
import { verifyBundle } from '#main/publish/bundle/verify-path.ts'
import { writeBundle } from '#main/publish/bundle/write.ts'
import type { VerifyReport } from '#shared/domain/bundle.ts'
import { MOUNTS, NO_MOUNT, onSmallDisk } from '../store/small-disk.ts'
import { measure } from './altered.ts'
import { inventedCaptures, inventedEvidence, streamed, SUBJECT } from './invented.ts'

const home = mkdtempSync(join(tmpdir(), 'slewlight-hostile-'))
const captures = inventedCaptures(2)
const bundle = join(home, 'bundle')
beforeAll(async () => {
  await writeBundle(bundle, SUBJECT, streamed(captures), await inventedEvidence(captures))
})
afterAll(() => rmSync(home, { recursive: true, force: true }))

const verify = (path: string): Promise<VerifyReport> => verifyBundle(path, { measure })
const unpacked = (): string[] =>
  readdirSync(tmpdir()).filter((name) => name.startsWith(`slewlight-verify-${process.pid}-`))

async function refusal(zip: Uint8Array): Promise<string> {
  const path = join(home, 'hostile.zip')
  writeFileSync(path, zip)
  const before = unpacked()
  const failed: unknown = await verify(path).then(
    () => null,
    (error: unknown) => error,
  )
  expect(failed).toMatchObject({ code: 'import-unreadable' })
  expect(unpacked()).toEqual(before)
  return (failed as Error).message
}

/** Offset of the one record of the central directory ("APPNOTE" 4.3.12). */
const recordOf = (zip: Buffer): number => zip.indexOf(Buffer.from('PK\x01\x02'))

describe('a zip', () => {
  it('that unpacks to more than a bundle holds is refused before anything is unpacked', async () => {
    const zip = Buffer.from(zipSync({ 'data/findings.json': new Uint8Array(1000) }))
    zip.writeUInt32LE(0x7fff_ffff, recordOf(zip) + 24)
    expect(await refusal(zip)).toContain('unpacks to more than a bundle holds')
  })

  it('whose files all lie on the same bytes is refused', async () => {
    const one = Buffer.from(zipSync({ 'data/0000': new Uint8Array(2 ** 20) }, { level: 0 }))
    const [at, end] = [recordOf(one), one.indexOf(Buffer.from('PK\x05\x06'))]
    const records = Array.from({ length: 2200 }, (_, i) => {
      const record = Buffer.from(one.subarray(at, end))
      record.write(String(i).padStart(4, '0'), record.indexOf('data/') + 5)
      // And says that it is empty.
      record.writeUInt32LE(0, 24)
      return record
    })
    const last = Buffer.from(one.subarray(end))
    last.writeUInt16LE(records.length, 8)
    last.writeUInt16LE(records.length, 10)
    expect(await refusal(Buffer.concat([one.subarray(0, at), ...records, last]))).toContain('unpacks to more')
  })

  it.each(['../out.txt', 'data/../../out.txt', '/tmp/out.txt', 'C:\\out.txt', '..\\out.txt'])(
    'with a path that leads out (%s) is refused',
    async (path) => {
      expect(await refusal(zipSync({ [path]: new Uint8Array(1) }))).toContain('leads out')
      expect(existsSync(join(home, 'out.txt'))).toBe(false)
    },
  )

  it.each<[string, Zippable | Uint8Array]>([
    ['with a file that is a folder too', { data: new Uint8Array(1), 'data/a': new Uint8Array(1) }],
    ['with a name that is too long', { [`${'x'.repeat(300)}/a`]: new Uint8Array(1) }],
    [
      'with more files than a bundle has',
      Object.fromEntries(Array.from({ length: 5001 }, (_, i) => [`${i}`, new Uint8Array()])),
    ],
    ['that is cut', zipSync({ a: new Uint8Array(100) }).subarray(0, 80)],
    ['that is none', Buffer.from('PK no zip at all, but text that begins like one')],
    ['that is empty', new Uint8Array()],
  ])('%s is refused', async (_, files) => {
    expect(await refusal(files instanceof Uint8Array ? files : zipSync(files))).toContain('cannot be read as a zip')
  })
})

describe('a folder', () => {
  const spoilt = (path: string, put: (file: string) => void): string => {
    const folder = mkdtempSync(join(home, 'spoilt-'))
    cpSync(bundle, folder, { recursive: true })
    rmSync(join(folder, path))
    put(join(folder, path))
    return folder
  }
  const pipe = (file: string): void => void execFileSync('mkfifo', [file])
  const device = (file: string): void => symlinkSync('/dev/zero', file)

  it.each([
    'recipe.json',
    'report.html',
    'ro-crate-metadata.json',
    'data/findings.json',
    'data/sweeps.json',
    'data/results.csv',
    'data/results.parquet',
    'data/traces.parquet',
  ])('with a pipe or an endless device as %s is named, and nothing waits for it', async (path) => {
    for (const put of [pipe, device]) {
      const { problems } = await verify(spoilt(path, put))
      expect(problems).toContainEqual({ file: path, place: '', problem: 'It is not a regular file.' })
    }
  })

  it('whose list of files is a pipe or an endless device is refused', async () => {
    for (const put of [pipe, device])
      await expect(verify(spoilt(MANIFEST, put))).rejects.toMatchObject({ code: 'import-unreadable' })
  })

  it.each([
    ['brackets without end', '['.repeat(5_000_000)],
    ['records within records', '{"a":'.repeat(200_000)],
    ['numbers beyond any', '{"limits":{"in_window_share":{"bound":"at-most","value":1e999}}}'],
    ['nothing', ''],
  ])('with %s for findings is named', async (_, text) => {
    const { problems } = await verify(spoilt('data/findings.json', (file) => writeFileSync(file, text)))
    expect(problems.map(({ problem }) => problem)).toContainEqual(expect.stringMatching(/^It cannot be read/))
  })

  it('with samples in absurd units is measured, or said to be unmeasurable, in no time', async () => {
    const absurd = [
      { sampleRateHz: 1e-300 },
      { sampleRateHz: 1e300 },
      { scaleV: 1e308 },
      { scaleV: 0 },
      { offsetV: -1e308 },
      { rangeV: 1e-300 },
    ]
    const changed = captures
      .slice(0, 1)
      .flatMap((capture) =>
        absurd.map((change, i) => ({ ...capture, captureId: i + 1, trace: { ...capture.trace, ...change } })),
      )
    const folder = join(home, 'absurd')
    await writeBundle(folder, SUBJECT, streamed(changed), [])
    const begun = process.threadCpuUsage()
    const report = await verify(folder)
    const { user, system } = process.threadCpuUsage(begun)
    expect(report.captures).toBe(absurd.length)
    expect(report.problems.length).toBeGreaterThan(0)
    expect((user + system) / 1e6).toBeLessThan(5)
  })
})

describe.skipIf(!MOUNTS)(`a disk that gets full${MOUNTS ? '' : NO_MOUNT}`, () => {
  it.each([8, 24, 60, 120])('after %i kB leaves no half of a bundle, and is told', async (kilobytes) => {
    await onSmallDisk(join(home, `disk-${kilobytes}`), `size=${kilobytes}k`, async (disk) => {
      const extras = [{ path: 'more.bin', name: 'More', encodingFormat: 'text/plain', bytes: new Uint8Array(150_000) }]
      await expect(writeBundle(join(disk, 'bundle'), SUBJECT, streamed(captures), extras)).rejects.toMatchObject({
        code: 'archive-disk-full',
      })
      expect(readdirSync(disk)).toEqual([])
    })
  })
})

it('a folder that is no bundle is called so', async () => {
  await expect(verify(mkdtempSync(join(home, 'plain-')))).rejects.toMatchObject({
    code: 'import-unreadable',
    message: `This is no evidence bundle: it has no ${MANIFEST}.`,
  })
})
