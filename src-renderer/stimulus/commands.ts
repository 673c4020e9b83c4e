import type { StimulusCommand, StimulusReport } from '#shared/domain/stimulus.ts'
import { frameStatistics, hasDrop, type FrameClock } from './frame-clock.ts'
import type { Guide } from './guide.ts'
import type { Reactions } from './reactions.ts'

/** Two full-viewport layers, the same patches on a surround each: one is seen, the other is painted ahead. */
export interface Layers {
  /** Size of the square patches in percent of the viewport's height, the grey level around them, and their heights. */
  arrange(sizePct: number, surround: number, level: number, rows: readonly number[]): void
  /** Paints the unseen layer. */
  paint(level: number): void
  /** Makes the painted layer the seen one. */
  swap(): void
  hide(): void
}

/** Frames left alone after the layers are laid out, before the refresh rate is measured. */
const SETTLE_FRAMES = 30
const FRAMES_AFTER = 2

/** Carries out one command and answers with the page's report; null when there is nothing to report. */
export async function carryOut(
  command: StimulusCommand,
  layers: Layers,
  clock: FrameClock,
  reactions: Reactions,
  guide: Guide,
): Promise<StimulusReport | null> {
  if (command.kind === 'picture') {
    reactions.disarm()
    guide.show(command.picture)
    const [, switchMs = 0] = await pass(clock, 1 + FRAMES_AFTER)
    return { kind: 'shown', token: command.token, switchMs, dropped: false }
  }
  guide.hide()
  if (command.kind === 'react') {
    reactions.disarm()
    layers.paint(command.level)
    // Painted and composited before an event may come.
    await pass(clock, 2)
    reactions.arm(command.token)
    return { kind: 'armed', token: command.token }
  }
  reactions.disarm()
  if (command.kind === 'disarm') return null
  if (command.kind === 'show') return switchTo(command.level, command.token, layers, clock)
  if (command.kind === 'release') {
    layers.hide()
    return null
  }
  layers.arrange(command.sizePct, command.surround, command.level, command.rows)
  return { kind: 'prepared', ...(await measureFrames(clock, command.measureFrames)) }
}

async function measureFrames(clock: FrameClock, frames: number): Promise<ReturnType<typeof frameStatistics>> {
  await pass(clock, SETTLE_FRAMES)
  return frameStatistics(await pass(clock, frames + 1))
}

/** Paints in one frame and swaps in the following one, so that the switch itself costs the compositor next to nothing. */
async function switchTo(level: number, token: number, layers: Layers, clock: FrameClock): Promise<StimulusReport> {
  const medianFrameMs = clock.medianFrameMs()
  await clock.next()
  layers.paint(level)
  const switchMs = await clock.next()
  layers.swap()
  await pass(clock, FRAMES_AFTER)
  // From the frame that painted to the last one logged; older frames cannot have touched the switch.
  const around = clock.recent(FRAMES_AFTER + 2)
  return { kind: 'shown', token, switchMs, dropped: hasDrop(around, medianFrameMs) }
}

/** Timestamps of the next frames, ms. */
async function pass(clock: FrameClock, count: number): Promise<number[]> {
  const times: number[] = []
  // One frame after the other.
  // oxlint-disable-next-line no-await-in-loop
  while (times.length < count) times.push(await clock.next())
  return times
}
