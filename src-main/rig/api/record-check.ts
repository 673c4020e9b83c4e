import type { RecordSettings } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { LEVEL_HEADERS } from '../protocol/commands.ts'
import { hasHeader } from '../protocol/headers.ts'
import { parseNumber } from '../protocol/numbers.ts'
import { BYTES_PER_SAMPLE } from '../protocol/samples.ts'
import { BLOCK_OVERHEAD_BYTES, transferSeconds } from '../protocol/timeouts.ts'
import { protocolError, unsuitableError } from './rig-errors.ts'

/** What the rig will really do; it may round. */
export type ActualSettings = Pick<RecordSettings, 'rangeV' | 'sampleRateHz' | 'points' | 'preTriggerPoints'>

/** A rate or a length further off than this is not what was planned. */
const RATE_TOLERANCE = 0.01
/** A range this many times as wide as asked for leaves too few of the converter's steps, or is a damaged answer. */
const WIDEST_RANGE = 100
/** Answers with few digits come back a little off without anything having been rounded. */
const DIGITS_TOLERANCE = 1e-6

/** Refuses what no rig could do, or this one cannot by its header list. */
export function checkSettings(settings: RecordSettings, headers: readonly string[]): void {
  const { points, preTriggerPoints, sampleRateHz, rangeV } = settings
  const sound =
    Number.isSafeInteger(points) &&
    points > 0 &&
    Number.isSafeInteger(preTriggerPoints) &&
    preTriggerPoints >= 0 &&
    preTriggerPoints < points &&
    Number.isFinite(sampleRateHz) &&
    sampleRateHz > 0 &&
    Number.isFinite(rangeV) &&
    rangeV > 0
  if (!sound)
    throw unsuitableError(
      `No rig can record ${points} samples (${preTriggerPoints} before the trigger) at ${sampleRateHz} Hz, ${rangeV} V.`,
      'Correct the plan.',
    )
  if (settings.trigger.source !== 'level' || headers.length === 0) return
  const missing = LEVEL_HEADERS.filter((header) => !hasHeader(headers, header))
  if (missing.length > 0)
    throw unsuitableError(
      `The rig cannot trigger on a light edge: it does not know ${missing.join(', ')}.`,
      'Choose the bus trigger in the plan.',
    )
}

/** Refuses a block that needs longer on the link than the plan allows, with the numbers. */
export function checkThroughput(settings: RecordSettings, bytesPerSecond: number | null, limitS: number): void {
  const channels = settings.second === true ? 2 : 1
  const bytes = channels * settings.points * BYTES_PER_SAMPLE[settings.transfer]
  const seconds = transferSeconds(bytes, bytesPerSecond)
  if (seconds <= limitS) return
  const halve = settings.transfer === 'real32' ? ' or the int16 transfer, which halves the bytes' : ''
  throw new AppError(
    'link-too-slow',
    `A capture of ${settings.points} samples is ${bytes + BLOCK_OVERHEAD_BYTES} bytes and needs ` +
      `${seconds.toFixed(1)} s on a link of ${Math.round(bytesPerSecond ?? 0)} bytes/s; the plan allows ` +
      `${limitS.toFixed(1)} s.`,
    `Use a faster link (baud rate), a lower sample rate, a shorter record${halve}.`,
  )
}

/** Whether READ_BACK answers with exactly the settings, up to the digits an answer may leave out. */
export function isAsAsked(settings: RecordSettings, answers: readonly string[]): boolean {
  const asked = [settings.rangeV, 1 / settings.sampleRateHz, settings.points, -settings.preTriggerPoints]
  return asked.every((value, i) => {
    const answer = parseNumber(answers[i] ?? '')
    return answer !== null && near(answer, value, DIGITS_TOLERANCE)
  })
}

/** The answers to READ_BACK against what was asked: small rounding is taken over, anything else refused. */
export function readActual(settings: RecordSettings, answers: readonly string[]): ActualSettings {
  const [rangeV, interval, points, offset] = answers.map(parseNumber)
  if (!positive(rangeV) || !positive(interval) || !positive(points) || offset == null || !Number.isFinite(offset))
    throw protocolError(`the settings read back as ${answers.map((answer) => `"${answer}"`).join(', ')}`)
  const rate = 1 / interval
  const actual: ActualSettings = {
    rangeV: near(rangeV, settings.rangeV, DIGITS_TOLERANCE) ? settings.rangeV : rangeV,
    sampleRateHz: near(rate, settings.sampleRateHz, DIGITS_TOLERANCE) ? settings.sampleRateHz : rate,
    points: Math.round(points),
    preTriggerPoints: offset === 0 ? 0 : Math.round(-offset),
  }
  const differences = [
    ...(near(actual.sampleRateHz, settings.sampleRateHz, RATE_TOLERANCE)
      ? []
      : [`${actual.sampleRateHz.toPrecision(6)} instead of ${settings.sampleRateHz} samples/s`]),
    ...(near(actual.points, settings.points, RATE_TOLERANCE)
      ? []
      : [`${actual.points} instead of ${settings.points} samples`]),
    ...(Math.abs(actual.preTriggerPoints - settings.preTriggerPoints) <= settings.points * RATE_TOLERANCE &&
    actual.preTriggerPoints >= 0 &&
    actual.preTriggerPoints < actual.points
      ? []
      : [`${actual.preTriggerPoints} instead of ${settings.preTriggerPoints} samples before the trigger`]),
    // A wider range loses resolution and nothing else; a narrower one clips.
    ...(actual.rangeV >= settings.rangeV && actual.rangeV <= WIDEST_RANGE * settings.rangeV
      ? []
      : [`a range of ${actual.rangeV} V instead of ${settings.rangeV} V`]),
  ]
  if (differences.length > 0)
    throw unsuitableError(`The rig would record ${differences.join(', ')}.`, 'Change the plan to what the rig can do.')
  return actual
}

function positive(value: number | null | undefined): value is number {
  return value != null && Number.isFinite(value) && value > 0
}

function near(a: number, b: number, tolerance: number): boolean {
  return Math.abs(a - b) <= tolerance * Math.abs(b)
}
