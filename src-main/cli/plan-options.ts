/** The plan and the rig of a sweep as options. */
import type { Command } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import { DEFAULT_PLAN, LEVEL_PRESETS, sweepPlanSchema, type SweepPlan } from '#shared/domain/plan.ts'
import {
  BACKLIGHTS,
  PANEL_IDS,
  rigTargetSchema,
  SIM_SETTINGS,
  type Backlight,
  type PanelId,
  type RigTarget,
  type Simulation,
} from '#shared/domain/rig.ts'
import { integerOption, levelsOption, numberOption, oneOf, problemsOf } from './options.ts'

export interface PlanOptions {
  readonly setting: string
  readonly refresh: number
  readonly levels: readonly number[]
  readonly repeats: number
  readonly attempts: number
  readonly pre: number
  readonly post: number
  readonly spacing?: number
  readonly rate: number
  readonly range: number
  readonly trigger: 'level' | 'bus'
  readonly transfer: 'int16' | 'real32'
  readonly patch: number
  readonly surround: number
  readonly seed: number
  readonly liftFlashLimit?: boolean
}

export interface RigOptions {
  readonly rig: string
  readonly baud: number
  readonly control?: string
  readonly panel: PanelId
  readonly backlight: Backlight
  readonly pwm: number
  readonly noise: number
  readonly secondChannel?: boolean
  readonly seed: number
}

const STIMULI = ['sim', 'page', 'socket'] as const
export type StimulusOption = (typeof STIMULI)[number]

/** Who shows the levels. */
export function addStimulusOption(command: Command): Command {
  return command.option(
    '--stimulus <kind>',
    'sim or socket: the simulated display; page: a browser page on the display under test',
    oneOf(STIMULI),
  )
}

const PRESET_NAMES = Object.keys(LEVEL_PRESETS) as (keyof typeof LEVEL_PRESETS)[]

function levelsOrPreset(text: string): readonly number[] {
  const preset = PRESET_NAMES.find((name) => name === text.trim().toLowerCase())
  return preset === undefined ? levelsOption(text) : LEVEL_PRESETS[preset]
}

export function addPlanOptions(command: Command): Command {
  const plan = sweepPlanSchema.parse(DEFAULT_PLAN)
  return command
    .optionsGroup('Plan:')
    .option(
      '--setting <label>',
      `overdrive setting as the display's menu calls it; the simulated display has ${SIM_SETTINGS.join(', ')}`,
      plan.setting,
    )
    .option('--refresh <hz>', 'refresh rate of the display', numberOption(10, 1000), plan.refreshHz)
    .option(
      '--levels <list>',
      `grey levels such as 0,51,102, or ${PRESET_NAMES.map((name) => `"${name}"`).join(', ')} (L* of an sRGB display)`,
      levelsOrPreset,
      plan.levels,
    )
    .option(
      '--repeats <n>',
      'captures of each transition; 5 or more give an uncertainty',
      integerOption(1, 100),
      plan.repeats,
    )
    .option('--attempts <n>', 'attempts before a capture is given up', integerOption(1, 20), plan.maxAttempts)
    .option('--pre <s>', 'recorded before the light edge', numberOption(0.001, 5), plan.preS)
    .option('--post <s>', 'recorded after the light edge', numberOption(0.002, 20), plan.postS)
    .option(
      '--spacing <s>',
      'least time between two level changes (default: as short as the flash limit and the record allow)',
      numberOption(0.01, 60),
    )
    .option('--rate <hz>', 'samples per second', numberOption(500, 10_000_000), plan.sampleRateHz)
    .option('--range <v>', 'full scale of the digitizer input', numberOption(0.001, 100), plan.rangeV)
    .option('--trigger <how>', 'level: on the light edge; bus: at once', oneOf(['level', 'bus'] as const), plan.trigger)
    .option('--transfer <format>', 'int16 or real32', oneOf(['int16', 'real32'] as const), plan.transfer)
    .option(
      '--patch <pct>',
      'edge of the patch in percent of the screen height',
      numberOption(1, 100),
      plan.patch.sizePct,
    )
    .option('--surround <code>', 'level around the patch', integerOption(0, 255), plan.patch.surround)
    .option(
      '--seed <n>',
      'seed of the order of captures and of the simulated rig',
      integerOption(0, 0xffffffff),
      plan.seed,
    )
    .option('--lift-flash-limit', 'allow more than three level changes a second')
}

export function addRigOptions(command: Command): Command {
  command
    .optionsGroup('Rig:')
    .option('--rig <what>', 'sim for the embedded simulated rig, or a serial port such as /dev/ttyACM0', 'sim')
    .option('--baud <n>', 'rate of the serial port', integerOption(300, 12_000_000), 115_200)
  return addSimulationOptions(command)
}

export function addSimulationOptions(command: Command): Command {
  return command
    .option('--control <socket>', 'control socket of a simulated rig on a pseudo-terminal')
    .option('--panel <name>', `simulated display: ${PANEL_IDS.join(', ')}`, oneOf(PANEL_IDS), 'swift')
    .option('--backlight <kind>', `simulated display: ${BACKLIGHTS.join(', ')}`, oneOf(BACKLIGHTS), 'steady')
    .option('--pwm <hz>', 'simulated display: frequency of its modulated backlight', numberOption(50, 20_000), 240)
    .option('--noise <v>', 'simulated rig: noise of its digitizer, V rms', numberOption(0, 1), 0.002)
    .option('--second-channel', 'simulated rig: a second channel, which shows the contact of the input device')
}

/** What the options of a simulated rig say; left to `simulationSchema` to check. */
export function simulationOf(options: Omit<RigOptions, 'rig' | 'baud'>): Partial<Simulation> {
  const { panel, backlight, pwm, noise, secondChannel, seed } = options
  return { panel, backlight, pwmHz: pwm, noiseV: noise, eventChannel: secondChannel === true, seed }
}

/** What the fields of a plan are called here. */
const PLAN_OPTION: Readonly<Record<string, string>> = {
  refreshHz: '--refresh',
  maxAttempts: '--attempts',
  preS: '--pre',
  postS: '--post',
  spacingS: '--spacing',
  sampleRateHz: '--rate',
  rangeV: '--range',
}

/** @throws AppError `invalid-input` naming what is wrong. */
export function planOf(options: PlanOptions): SweepPlan {
  const { pre, post, liftFlashLimit } = options
  // The record must fit between two changes, and three changes a second are the limit.
  const spacing = options.spacing ?? Math.max(DEFAULT_PLAN.spacingS, roundUp(pre + post + 0.05))
  const parsed = sweepPlanSchema.safeParse({
    setting: options.setting,
    refreshHz: options.refresh,
    levels: options.levels,
    repeats: options.repeats,
    maxAttempts: options.attempts,
    seed: options.seed,
    preS: pre,
    postS: post,
    spacingS: spacing,
    sampleRateHz: options.rate,
    rangeV: options.range,
    trigger: options.trigger,
    transfer: options.transfer,
    patch: { sizePct: options.patch, surround: options.surround },
    flashLimitLifted: liftFlashLimit === true,
  })
  if (parsed.success) return parsed.data
  throw new AppError(
    'invalid-input',
    `This plan is not possible: ${problemsOf(parsed.error, PLAN_OPTION)}`,
    'See `slewlight sweep --help`.',
  )
}

const roundUp = (seconds: number): number => Math.ceil(seconds * 100) / 100

/** @throws AppError `invalid-input`. */
export function rigTargetOf(options: RigOptions): RigTarget {
  const { rig, baud, control } = options
  const parsed = rigTargetSchema.safeParse(
    rig === 'sim' || rig === 'simulated'
      ? { kind: 'simulated', simulation: simulationOf(options) }
      : { kind: 'serial', path: rig, baudRate: baud, ...(control === undefined ? {} : { controlPath: control }) },
  )
  if (parsed.success) return parsed.data
  throw new AppError('invalid-input', `This rig is not possible: ${problemsOf(parsed.error)}`, 'See --help.')
}
