/** Archives set side by side: read without a change, measured on a copy, each refusal with its reason. */
import { createHash } from 'node:crypto'
import {
  copyFileSync,
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { createLibrary } from '#main/core/library.ts'
import { createKeptPaths } from '#main/platform/kept-paths.ts'
import { DEFAULT_RECIPE, RECIPE_PRESETS, recipeHash } from '#shared/domain/recipe.ts'
import { compareAlike } from '#shared/findings/campaign/displays.ts'
import { USUAL_JUDGEMENT } from '#shared/findings/campaign/figures.ts'
import { displaysIn } from '#shared/findings/campaign/library.ts'
import { IN_THREAD, openBenchCore, type BenchCore } from '../support/bench-core.ts'
import { AppError } from '#shared/domain/errors.ts'
import { noArchive, run } from '../cli/in-process.ts'
import type { CliHost } from '#main/cli/host.ts'
import type { LibraryReader } from '#main/core/library-reader.ts'
import { libraryWith } from '../support/library.ts'

const hash = recipeHash(DEFAULT_RECIPE)
const OTHER = RECIPE_PRESETS.find((recipe) => recipeHash(recipe) !== hash)!
const folder = mkdtempSync(join(tmpdir(), 'slewlight-library-'))
const other = join(folder, 'other.sqlite')
const digest = () => createHash('sha256').update(readFileSync(other)).digest('hex')
let bench: BenchCore
const close = async (): Promise<void> => undefined
const host: CliHost = { ...noArchive, library: async () => ({ reader: libraryWith(IN_THREAD).reader, close }) }

beforeAll(async () => {
  const made = await openBenchCore({ archive: other })
  const sweepId = await made.plan({ levels: [0, 255], repeats: 5 })
  await made.core.system.acknowledgeWarning({ understood: true })
  await made.core.sweeps.start({ sweepId })
  await made.core.sweepIdle()
  expect(made.state().sweep?.state).toBe('finished')
  await made.close()
  bench = await openBenchCore()
})

afterAll(async () => {
  await bench.close()
  rmSync(folder, { recursive: true, force: true })
})

describe('a library of archives', () => {
  it('lists an added archive with its campaigns, and changes nothing in it', async () => {
    const [before, files] = [digest(), readdirSync(folder)]
    const { library } = bench.core
    expect(await library.add({ path: other })).toBe(1)
    expect(await library.add({ path: other })).toBe(0)
    const { archives } = await library.list({ recipeHash: hash })
    expect(archives.map(({ name, isOpen, problem }) => [name, isOpen, problem])).toEqual([
      ['bench.slewlight', true, null],
      ['other.sqlite', false, null],
    ])
    expect(archives[1]?.campaigns).toMatchObject([{ origin: 'simulated', unmeasured: 0, data: { invented: true } }])
    expect(digest()).toBe(before)
    expect(readdirSync(folder)).toEqual(files)
  })

  it('measures on a copy what the archive lacks under a recipe', async () => {
    const { library } = bench.core
    const before = digest()
    const wanted = recipeHash(OTHER)
    const [, lacking] = (await library.list({ recipeHash: wanted })).archives
    expect(lacking?.campaigns).toMatchObject([{ unmeasured: 10, data: null }])
    const { jobId } = await library.measure({ path: other, recipeHash: wanted })
    await expect.poll(async () => (await bench.core.jobs.outcome({ jobId })).state).toBe('finished')
    expect((await bench.core.jobs.outcome({ jobId })).result).toMatchObject({ measured: 10, failed: [] })
    const [, measured] = (await library.list({ recipeHash: wanted })).archives
    expect(measured?.campaigns).toMatchObject([{ unmeasured: 0, data: { recipeHash: wanted } }])
    expect(digest()).toBe(before)
  })

  it('says which file is missing, is none of ours or was not closed, and makes none', async () => {
    const { library } = bench.core
    const gone = join(folder, 'gone.sqlite')
    copyFileSync(other, gone)
    const strange = join(folder, 'strange.sqlite')
    writeFileSync(strange, 'no archive at all, whatever it is called '.repeat(40))
    const open = join(folder, 'left-open.sqlite')
    copyFileSync(other, open)
    const { default: Database } = await import('better-sqlite3')
    const db = new Database(open)
    db.exec("UPDATE archive SET value = 'open' WHERE key = 'state'")
    db.close()
    for (const path of [gone, strange, open]) await library.add({ path })
    rmSync(gone)
    const { archives } = await library.list({ recipeHash: hash })
    const problems = new Map(archives.map(({ name, problem }) => [name, problem]))
    expect(problems.get('gone.sqlite')).toMatchObject({ code: 'not-found', message: `There is no archive at ${gone}.` })
    expect(problems.get('strange.sqlite')?.code).toMatch(/invalid-input|archive-damaged/)
    expect(problems.get('left-open.sqlite')?.message).toMatch(/was not closed properly/)
    expect(existsSync(gone)).toBe(false)
    for (const path of [gone, strange, open]) {
      await library.remove({ path })
      rmSync(path, { force: true })
    }
    expect((await library.list({ recipeHash: hash })).archives).toHaveLength(2)
  })

  it('compares the others beside one that is locked, damaged or gone, and leaves no file beside them', async () => {
    const { library } = bench.core
    const at = (name: string): string => join(folder, name)
    const [held, torn, lost] = [at('held.sqlite'), at('torn.sqlite'), at('lost.sqlite')]
    for (const path of [held, torn, lost]) {
      copyFileSync(other, path)
      await library.add({ path })
    }
    rmSync(lost)
    const bytes = readFileSync(torn)
    bytes.fill(0, 8 * 1024, 48 * 1024)
    writeFileSync(torn, bytes)
    const { default: Database } = await import('better-sqlite3')
    const holder = new Database(held)
    holder.pragma('locking_mode = EXCLUSIVE')
    holder.exec('BEGIN EXCLUSIVE')
    copyFileSync(other, at('twin.sqlite'))
    const files = readdirSync(folder)
    const { archives } = await library.list({ recipeHash: hash })
    const { code, out } = await run(['compare-displays', other, held, torn, lost, at('twin.sqlite'), '--json'], host)
    expect(readdirSync(folder)).toEqual(files)
    holder.close()
    const told = new Map(archives.map(({ name, problem }) => [name, problem]))
    expect(told.get('other.sqlite')).toBeNull()
    expect(told.get('held.sqlite')).toMatchObject({ code: 'archive-locked', remedy: expect.stringMatching(/^Close/) })
    expect(told.get('torn.sqlite')).toMatchObject({
      code: 'archive-damaged',
      remedy: expect.stringMatching(/^Salvage/),
    })
    expect(told.get('lost.sqlite')).toMatchObject({ code: 'not-found', remedy: expect.stringMatching(/^Check/) })
    expect(code).toBe(1)
    const leftOut = (JSON.parse(out) as { left_out: { name: string; reason: string }[] }).left_out
    for (const [path, why, remedy] of [
      [held, 'is in use by another program', 'Close the other'],
      [torn, 'is damaged', 'Salvage the archive'],
      [lost, 'There is no archive at', 'Check the path'],
    ] as const)
      expect(leftOut.find(({ name }) => name === path)?.reason).toMatch(new RegExp(`${why}.*${remedy}`))
    for (const path of [held, torn, lost]) await library.remove({ path })
    for (const path of [held, torn, at('twin.sqlite')]) rmSync(path, { force: true })
  })

  it('compares the others where one cannot be measured on a copy', async () => {
    const { reader } = libraryWith(IN_THREAD)
    const full = new AppError('archive-disk-full', 'The disk is full.', 'Free space.')
    const measure: LibraryReader['measure'] = async (path, ...rest) => {
      if (path === other) throw full
      return reader.measure(path, ...rest)
    }
    const failing: CliHost = { ...host, library: async () => ({ reader: { ...reader, measure }, close }) }
    const more = ['a.sqlite', 'b.sqlite'].map((name) => join(folder, name))
    for (const path of more) copyFileSync(other, path)
    const options = ['--measure', '--recipe', OTHER.name, '--json']
    const { code, out } = await run(['compare-displays', other, ...more, ...options], failing)
    for (const path of more) rmSync(path)
    expect(code).toBe(1)
    const answer = JSON.parse(out) as { left_out: unknown[]; without: unknown[]; entries: unknown[] }
    expect(answer.left_out).toContainEqual({ name: other, reason: 'The disk is full. Free space.' })
    expect(answer.entries.length + answer.without.length).toBe(2)
  })

  it('goes on where the archive in use was moved', async () => {
    const desk = createLibrary({
      ...libraryWith(IN_THREAD),
      store: new Proxy(bench.store, {
        get: (store, name) =>
          name === 'info'
            ? async () => ({ ...(await store.info()), path: join(folder, 'moved.sqlite') })
            : (Reflect.get(store, name) as unknown),
      }),
      recipes: { get: () => DEFAULT_RECIPE },
      jobs: null as never,
      hub: { emit: () => undefined } as never,
    })
    await desk.add(other)
    const { archives } = await desk.list(hash)
    expect(archives.map(({ name, problem }) => [name, problem])).toEqual([
      ['moved.sqlite', null],
      ['other.sqlite', null],
    ])
  })

  it('takes no archive twice under two names, not the one in use, and no path of another machine', async () => {
    const { library } = bench.core
    const link = join(folder, 'link.sqlite')
    symlinkSync(other, link)
    expect(await library.add({ path: link })).toBe(0)
    rmSync(link)
    await expect(library.add({ path: bench.archive })).rejects.toMatchObject({ code: 'conflict' })
    await expect(library.add({ path: join(folder, 'nothing.sqlite') })).rejects.toMatchObject({ code: 'not-found' })
    for (const path of ['other.sqlite', '//server/share/a.sqlite', '\\\\server\\share\\a.sqlite'])
      await expect(library.add({ path })).rejects.toMatchObject({ code: 'invalid-input' })
    await expect(library.add({ path: folder })).rejects.toMatchObject({ code: 'invalid-input' })
  })

  it('takes from a page only what the host knows where the host has a file dialog', async () => {
    const options = libraryWith(IN_THREAD, { adding: 'dialog', folders: [folder] })
    const desk = createLibrary({
      ...options,
      store: bench.store,
      recipes: { get: () => DEFAULT_RECIPE },
      jobs: null as never,
      hub: { emit: () => undefined } as never,
    })
    const elsewhere = join(mkdtempSync(join(folder, 'elsewhere-')), 'copy.sqlite')
    copyFileSync(other, elsewhere)
    expect((await desk.list(hash)).known).toEqual([other])
    await expect(desk.add(elsewhere)).rejects.toMatchObject({ code: 'conflict' })
    expect(await desk.add(other)).toBe(1)
    expect((await desk.list(hash)).known).toEqual([])
    expect(await desk.addChosen([elsewhere, other])).toBe(1)
  })

  it('tells displays of the same name apart by their archive', async () => {
    const { library } = bench.core
    const twin = join(folder, 'twin.sqlite')
    copyFileSync(other, twin)
    await library.add({ path: twin })
    const displays = displaysIn((await library.list({ recipeHash: hash })).archives)
    const names = displays.map(({ data }) => data.name)
    expect(new Set(names).size).toBe(2)
    expect(names[0]).toContain('other.sqlite')
    expect(names[1]).toContain('twin.sqlite')
    const data = displays.map((one) => one.data)
    const limits = { duration_mean: { bound: 'at-most', value: 1 } } as const
    const { found } = compareAlike(data, {
      judgement: { ...USUAL_JUDGEMENT, limits },
      figure: 'duration_mean',
      at: null,
    })
    // The same traces: no difference at all.
    expect(found.ranking.ranked.map(({ best, worst }) => [best, worst])).toEqual([
      [1, 2],
      [1, 2],
    ])
    await library.remove({ path: twin })
  })
})

describe('the list kept from one start to the next', () => {
  it('comes back, and is empty and told where the file cannot be read', async () => {
    const told: string[] = []
    const file = join(folder, 'kept', 'library.json')
    const kept = createKeptPaths(file, { warn: (text) => told.push(text) })
    expect(await kept.read()).toEqual([])
    await kept.write(['/a.sqlite', '/b.sqlite'])
    expect(await createKeptPaths(file, { warn: (text) => told.push(text) }).read()).toEqual(['/a.sqlite', '/b.sqlite'])
    expect(told).toEqual([])
    writeFileSync(file, '{"archives": 7}')
    expect(await kept.read()).toEqual([])
    expect(told).toHaveLength(1)
  })
})
