/** Levels on a simulated display, without a screen: the stimulus of the simulated rig. */
import type { ReactingStimulus, SimulatedMenu, StimulusRouter } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { SIM_SETTINGS, type SimSetting } from '#shared/domain/rig.ts'
import type { StimulusState } from '#shared/domain/views.ts'
import type { Rgb, SensorPlace } from '#shared/domain/guided.ts'
import type { DrivenDisplay, DrivenDisplaySource } from './driven-display.ts'

/** As for a real display: how far measured and planned refresh may be apart. */
const REFRESH_TOLERANCE = 0.015

const CENTRE: SensorPlace = { x: 0.5, y: 0.5, degrees: 0 }

export function createSimulatedStimulus(
  source: DrivenDisplaySource,
): ReactingStimulus & Pick<StimulusRouter, 'simulatedMenu'> {
  const listeners = new Set<(state: StimulusState) => void>()
  let measuredHz: number | null = null
  let frames = 0
  let level: number | null = null
  let problem = ''
  let held: SensorPlace = CENTRE
  /** What a person set on the display; null while it follows plans. */
  let menu: SimulatedMenu | null = null

  const state = (): StimulusState => {
    const connected = source.current() !== null
    return {
      kind: 'simulated',
      connected,
      fullScreen: connected,
      measuredHz: connected ? measuredHz : null,
      frames: connected ? frames : 0,
      level: connected ? level : null,
      problem,
    }
  }
  const announce = (): void => {
    for (const listener of listeners) listener(state())
  }
  const display = (): DrivenDisplay => {
    const current = source.current()
    if (current === null)
      throw new AppError(
        'stimulus-absent',
        'There is no simulated display.',
        'Connect the simulated rig, or use the stimulus page on the display under test.',
      )
    return current
  }

  source.onChange(() => {
    measuredHz = null
    frames = 0
    level = null
    problem = ''
    announce()
  })

  return {
    state,
    onState(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    async prepare(plan, signal, heights) {
      if (signal?.aborted === true) throw new AppError('cancelled', 'The work was cancelled.')
      const target = display()
      await target.setPatch(plan.patch)
      await target.setRow(heights?.sensor ?? 0.5)
      held = CENTRE
      await target.setView({ ...held, share: 1 })
      if (menu !== null) {
        problem = ''
        announce()
        const hz = menu.refreshHz
        if (hz !== undefined && Math.abs(hz / plan.refreshHz - 1) > REFRESH_TOLERANCE)
          throw new AppError(
            'stimulus-mismatch',
            `The display runs at ${hz} Hz, the plan says ${plan.refreshHz} Hz.`,
            'Set the display to the refresh rate of the plan.',
          )
        return
      }
      const setting = settingNamed(plan.setting)
      await target.setRefresh(plan.refreshHz)
      await target.setSetting(setting ?? 'Off')
      measuredHz = null
      frames = 0
      problem =
        setting === null
          ? `The simulated display has no setting "${plan.setting}" (it has ${SIM_SETTINGS.join(', ')}); it behaves as with Off.`
          : ''
      announce()
    },
    async show(next, signal) {
      const log = await display().show(next, signal)
      level = next
      // The display's own frame clock, as its log tells it.
      measuredHz = log.frameMs === null ? null : 1000 / log.frameMs
      frames += 1
      announce()
      return log
    },
    async picture({ rgb, mark }, signal) {
      if (mark) return
      const target = display()
      await target.setView({ ...held, share: shareOf(rgb) })
      await target.show(Math.max(...rgb), signal)
      level = Math.max(...rgb)
      announce()
    },
    async holdAt(place) {
      held = place
      const target = display()
      await target.setRow(place.y)
      await target.setView({ ...held, share: 1 })
    },
    async react(next, signal) {
      const reacted = (async () => {
        await display().react(next, signal)
        level = next
        announce()
        return { handlerMs: null }
      })()
      // Given up before anybody waits for it: no error of its own.
      reacted.catch(() => undefined)
      return { reacted }
    },
    async simulatedMenu(next) {
      if (next === null) {
        menu = null
        return
      }
      const target = display()
      menu = { ...menu, ...next }
      if (next.setting !== undefined) await target.setSetting(next.setting)
      if (next.refreshHz !== undefined) await target.setRefresh(next.refreshHz)
    },
    async release() {
      level = null
      announce()
    },
  }
}

/** Luminance of R, G and B over white: the middle row of the sRGB matrix (IEC 61966-2-1), and the panels' own exponent. */
const WEIGHTS = [0.2126, 0.7152, 0.0722] as const
const EXPONENT = 2.2

/** Light of a colour over that of a grey of its largest code. */
function shareOf(rgb: Rgb): number {
  const most = Math.max(...rgb)
  return most === 0 ? 1 : rgb.reduce((sum, code, k) => sum + (WEIGHTS[k] ?? 0) * (code / most) ** EXPONENT, 0)
}

/** The setting a plan's label names, whatever its case; null for a label the display does not have. */
function settingNamed(label: string): SimSetting | null {
  const wanted = label.trim().toLowerCase()
  return SIM_SETTINGS.find((setting) => setting.toLowerCase() === wanted) ?? null
}
