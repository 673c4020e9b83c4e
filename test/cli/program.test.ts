import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { chooseRecipe } from '#main/cli/choose-recipe.ts'
import { EXIT_CODES, exitCodeOf } from '#main/cli/exit-codes.ts'
import { createOutput, reportError, shortNumber, textTable } from '#main/cli/output.ts'
import { AppError, ERROR_CODES } from '#shared/domain/errors.ts'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import { DEFAULT_RECIPE, RECIPE_PRESETS, recipeHash } from '#shared/domain/recipe.ts'
import { run } from './in-process.ts'

const folder = mkdtempSync(join(tmpdir(), 'slewlight-cli-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const save = (name: string, text: string): string => {
  const path = join(folder, name)
  writeFileSync(path, text)
  return path
}

const TAU = 0.003
const RATE = 50_000
/** A first-order transition without noise; its 10–90 % duration is τ·ln 9 (closed form). */
const exponential = (low: number, high: number): string =>
  [
    'time_s,voltage_v',
    ...Array.from({ length: 10_000 }, (_, i) => {
      const t = (i - 2500) / RATE
      return `${t},${t < 0 ? low : high + (low - high) * Math.exp(-t / TAU)}`
    }),
  ].join('\n')

const inputOf = async (args: string[]): Promise<unknown> =>
  JSON.parse((await run(['measure', ...args, '--json'])).out).input

describe('measure', () => {
  const rise = save('0-255_r1.csv', exponential(0.2, 3.2))

  it('answers with recipe, result and flags; the keys are the measures', async () => {
    const { code, out, err } = await run(['measure', rise, '--refresh', '60', '--json'])
    expect(err).toBe('')
    expect(code).toBe(0)
    const answer = JSON.parse(out)
    expect(Object.keys(answer.result)).toEqual(MEASURE_IDS)
    expect(answer.recipe).toMatchObject({
      name: DEFAULT_RECIPE.name,
      hash: recipeHash(DEFAULT_RECIPE),
      parameters: DEFAULT_RECIPE,
    })
    expect(Math.abs(answer.result.transition_duration_s / (TAU * Math.log(9)) - 1)).toBeLessThan(1e-3)
    // First-frame completion of a first-order step: 1 − e^(−T/τ), counted from onset (leaving the 3 % band).
    expect(answer.result.first_frame_completion_pct).toBeGreaterThan(99)
    expect(answer.input).toMatchObject({
      from_code: 0,
      to_code: 255,
      levels_from: 'file name',
      samples: 10_000,
      sample_rate_hz: RATE,
    })
    expect(Array.isArray(answer.flags)).toBe(true)
    for (const id of MEASURE_IDS) if (answer.result[id] === null) expect(answer.reasons[id]).toMatch(/\w/)
    expect(answer.result.transition_duration_corrected_s).toBeNull()
  })

  it('gives undefined measures a reason when the refresh rate is not known', async () => {
    const answer = JSON.parse((await run(['measure', rise, '--json'])).out)
    expect(answer.input.refresh_hz).toBeNull()
    for (const id of ['in_window', 'blur_edge_s', 'first_frame_completion_pct']) {
      expect(answer.result[id]).toBeNull()
      expect(answer.reasons[id]).toMatch(/refresh/i)
    }
  })

  it('takes the levels from the options, the name, or the direction', async () => {
    const fall = save('unnamed.csv', exponential(3.2, 0.2))
    expect(await inputOf([rise, '--from', '51', '--to', '102'])).toMatchObject({
      from_code: 51,
      to_code: 102,
      levels_from: 'options',
    })
    expect(await inputOf([fall])).toMatchObject({ from_code: 255, to_code: 0, levels_from: 'direction' })
    expect(await run(['measure', fall, '--from', '51'])).toMatchObject({ code: 2, out: '' })
  })

  it('prints a table for people', async () => {
    const { out } = await run(['measure', rise])
    expect(out).toMatch(/Transition duration +6\.59\d/)
    expect(out).toMatch(/Recipe: 10–90 % of luminance/)
  })

  it('exits with 1 and reasons when there is no transition in the file', async () => {
    const flat = save('flat.csv', exponential(1, 1))
    const { code, out } = await run(['measure', flat, '--json'])
    expect(code).toBe(1)
    const answer = JSON.parse(out)
    expect(answer.result.transition_duration_s).toBeNull()
    expect(answer.reasons.transition_duration_s).toMatch(/\w/)
  })

  it('uses other columns, marks and intervals when told', async () => {
    const text = exponential(0.2, 3.2)
      .split('\n')
      .slice(1)
      .map((row) => `${row.split(',')[1]}`)
      .join('\n')
    const bare = save('0-255 bare.csv', text)
    const refused = await run(['measure', bare])
    expect(refused.code).toBe(5)
    expect(refused.err).toMatch(/sample interval is not given/)
    const told = await run(['measure', bare, '--interval', '0.00002', '--json'])
    expect(JSON.parse(told.out).input.sample_rate_hz).toBe(RATE)
  })

  it.each<[string, string[], number, RegExp]>([
    ['a file that is not there', [join(folder, 'absent.csv')], 5, /there is no such file/],
    ['a folder', [folder], 5, /it is a folder/],
    ['a letter', [save('letter.csv', 'Dear reader,\n')], 5, /letter\.csv: No table of numbers/],
    [
      'a damaged sample',
      [save('bad.csv', exponential(0, 1).replace('\n-0.04,0\n', '\n-0.04,OVLD\n'))],
      5,
      /bad\.csv: Line \d+: .*OVLD/,
    ],
    ['an unknown recipe', [rise, '--recipe', 'nothing'], 6, /No recipe is called “nothing”/],
    ['an ambiguous recipe', [rise, '--recipe', '2'], 6, /fits 2 recipes/],
    ['a number that is none', [rise, '--refresh', 'fast'], 2, /not a number/],
    ['a level too high', [rise, '--from', '0', '--to', '256'], 2, /from 0 to 255/],
    ['equal levels', [rise, '--from', '9', '--to', '9'], 2, /two different levels/],
    ['an unknown option', [rise, '--fast'], 2, /unknown option/],
    ['no file', [], 2, /missing required argument/],
  ])('refuses %s', async (_, args, code, message) => {
    const text = await run(['measure', ...args])
    expect(text).toMatchObject({ code, out: '' })
    expect(text.err).toMatch(message)
    const json = await run(['measure', ...args, '--json'])
    expect(json).toMatchObject({ code, out: '' })
    const { error } = JSON.parse(json.err)
    expect(error.exit_code).toBe(code)
    expect(`${error.message} ${error.remedy}`).toMatch(message)
  })
})

describe('recipes by name', () => {
  it('finds a recipe by name, part of a name, hash or its beginning', async () => {
    const [first, second] = RECIPE_PRESETS
    const hash = recipeHash(second as typeof DEFAULT_RECIPE)
    expect((await chooseRecipe('10-90')).recipe).toEqual(first)
    expect((await chooseRecipe('10–90 % of luminance')).recipe).toEqual(first)
    expect((await chooseRecipe('2 L*')).hash).toBe(hash)
    expect((await chooseRecipe(hash)).recipe).toEqual(second)
    expect((await chooseRecipe(hash.slice(0, 6))).recipe).toEqual(second)
    expect((await chooseRecipe('Band of ±2 L*')).recipe.ordinate).toBe('lightness')
  })

  it('reads a recipe from a file and fills in what is left out', async () => {
    const { recipe, hash } = await chooseRecipe(
      save('mine.json', '{"name":"Mine","duration":{"kind":"percent","percent":20}}'),
    )
    expect(recipe).toMatchObject({ name: 'Mine', duration: { percent: 20 }, ordinate: 'luminance' })
    expect(hash).toBe(recipeHash(recipe))
  })

  it.each([
    ['wrong.json', '{"name":"Mine","duration":{"kind":"percent","percent":90}}', /duration\.percent/],
    ['broken.json', '{"name":', /is not valid JSON/],
    ['extra.json', '{"name":"Mine","surprise":1}', /surprise/],
  ])('refuses %s', async (name, text, message) => {
    await expect(chooseRecipe(save(name, text))).rejects.toMatchObject({
      code: 'import-unreadable',
      message: expect.stringMatching(message) as string,
    })
    await expect(chooseRecipe(join(folder, 'absent.json'))).rejects.toMatchObject({ code: 'import-unreadable' })
  })
})

describe('help and exit codes', () => {
  const COMMANDS = [
    'sweep',
    'latency',
    'guide',
    'measure',
    'import',
    'show',
    'export',
    'recipes',
    'reanalyse',
    'compare-recipes',
    'serve',
    'rig-sim',
  ]

  it('lists every command and every exit code', async () => {
    const { code, out } = await run(['--help'])
    expect(code).toBe(0)
    for (const command of COMMANDS) expect(out).toContain(`\n  ${command} `)
    for (const [number, meaning] of EXIT_CODES) expect(out).toContain(`  ${number}  ${meaning}`)
    expect((await run(['--version'])).out).toBe('1.2.3\n')
  })

  it.each(COMMANDS)('explains %s with an example', async (command) => {
    const { code, out } = await run([command, '--help'])
    expect(code).toBe(0)
    expect(out).toContain(`\nUsage: slewlight ${command}`.slice(1))
    expect(out).toContain('--json')
    expect(out).toMatch(new RegExp(`Examples?:\n {2}slewlight ${command}`))
    expect(out).toContain('Exit codes:')
  })

  it('fails on nothing and on unknown commands', async () => {
    expect((await run([])).code).toBe(2)
    expect((await run(['swep'])).err).toMatch(/unknown command 'swep'/)
    expect((await run(['swep'])).code).toBe(2)
  })

  it('has an exit code in the table for every error', () => {
    const listed = new Set<number>(EXIT_CODES.map(([code]) => code))
    for (const code of ERROR_CODES) {
      expect(exitCodeOf(code)).toBeGreaterThan(0)
      expect(listed.has(exitCodeOf(code))).toBe(true)
    }
  })

  it('has the same table in the manual', () => {
    const manual = readFileSync(new URL('../../assets/manual/command-line.md', import.meta.url), 'utf8')
    for (const [code, meaning] of EXIT_CODES) expect(manual).toContain(`| ${code} | ${meaning} |`)
    for (const command of COMMANDS) expect(manual).toMatch(new RegExp(`^\\| \`${command}\\b`, 'm'))
  })

  it('refuses a sweep before anything is opened', async () => {
    expect(await run(['sweep', '--levels', '7'])).toMatchObject({ code: 2, out: '' })
    expect((await run(['sweep', '--spacing', '0.1', '--pre', '0.01', '--post', '0.05'])).err).toMatch(
      /: Less than 1\/3 s between level changes/,
    )
    expect((await run(['sweep', '--rig', '/dev/ttyX', '--stimulus', 'sim'])).err).toMatch(/--control/)
    expect((await run(['sweep', '--stimulus', 'socket'])).code).toBe(2)
    const real = await run(['sweep', '--rig', '/dev/ttyX'])
    expect(real.code).toBe(6)
    expect(real.err).toMatch(/seizures/)
    expect(real.err).toMatch(/--i-understand-flashing/)
  })
})

const sink = (liveErr: boolean): { lines: string[]; output: ReturnType<typeof createOutput> } => {
  const lines: string[] = []
  const output = createOutput(
    {
      out: () => undefined,
      write: async () => undefined,
      err: (text) => lines.push(text),
      liveErr,
      onInterrupt: () => () => undefined,
    },
    false,
  )
  return { lines, output }
}

describe('output', () => {
  it('aligns columns and shows what is absent', () => {
    expect(
      textTable(
        ['id', 'name', 'n'],
        [
          [1, 'a', 10],
          [12, 'long', null],
        ],
      ),
    ).toBe('id  name   n\n 1  a     10\n12  long   –')
  })

  it('writes numbers short and durations readable', () => {
    expect([0, 3, 0.0043512, 4.3512, 99.98123, 1234.56, 1e-7, -2.5e9].map(shortNumber)).toEqual([
      '0',
      '3',
      '0.004351',
      '4.351',
      '99.98',
      '1235',
      '1.000e-7',
      '-2.500e+9',
    ])
  })

  it('redraws progress on a terminal and is sparing elsewhere', () => {
    const live = sink(true)
    live.output.progress('one long line', {})
    live.output.progress('short', {})
    live.output.note('note')
    expect(live.lines).toEqual(['\rone long line', '\rshort        ', '\r     \r', 'note\n'])
    const plain = sink(false)
    plain.output.progress('one', {})
    plain.output.progress('two', {})
    expect(plain.lines).toEqual(['one\n'])
  })

  it('says what happened and what to do', () => {
    const lines: string[] = []
    const process = {
      out: () => undefined,
      err: (text: string) => void lines.push(text),
      liveErr: false,
      write: async () => undefined,
      onInterrupt: () => () => undefined,
    }
    expect(reportError(process, false, new AppError('rig-lost', 'The cable is out.', 'Put it in.'))).toBe(3)
    expect(lines.join('')).toBe('The cable is out.\nPut it in.\n')
  })
})
