/**
 * Levels on a real screen: a page on the display under test attaches, is told what to show and answers with its frame
 * times. The frame times only tell a clean switch from a dropped frame; the light edge itself is the clock.
 */
import type { Clock, Log, Reaction, ReactingStimulus } from '#main/core/ports.ts'
import type { FrameLog } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { StimulusCommand, StimulusReport } from '#shared/domain/stimulus.ts'
import type { StimulusState } from '#shared/domain/views.ts'

/** Frames the refresh rate is measured over. */
export const MEASURE_FRAMES = 320
/** Largest accepted difference between measured and planned refresh rate, as a share of the plan's. */
const REFRESH_TOLERANCE = 0.015
/** Frame times that vary more than this share of a frame are reported as a problem. */
const UNSTEADY_SHARE = 0.25
const SHOW_TIMEOUT_S = 3

export interface PageStimulus extends ReactingStimulus {
  /** Commands for the page of one connection; a page that attaches later takes over and this stream ends. */
  attach(connection: string, signal: AbortSignal): AsyncGenerator<StimulusCommand, void>
  /** Reports of any other connection than the attached one are ignored. */
  report(connection: string, report: StimulusReport): void
}

export interface PageStimulusDeps {
  readonly clock: Clock
  readonly log: Log
  /** Whether the page lives in the desktop's own stimulus window. */
  readonly inWindow?: () => boolean
}

type Prepared = Extract<StimulusReport, { kind: 'prepared' }>
type Shown = Extract<StimulusReport, { kind: 'shown' }>
type Armed = Extract<StimulusReport, { kind: 'armed' }>
type Answered = Prepared | Shown | Armed

interface Page {
  readonly connection: string
  readonly commands: StimulusCommand[]
  wake: () => void
  ended: boolean
}

interface Pending {
  readonly kind: Answered['kind']
  readonly token: number | null
  readonly resolve: (report: Answered) => void
  readonly reject: (error: AppError) => void
}

const nothing = (): void => undefined

const absent = (): AppError =>
  new AppError(
    'stimulus-absent',
    'No stimulus page is open on the display under test.',
    'Open the stimulus page on that display and make it full screen.',
  )

export function createPageStimulus({ clock, log, inWindow = () => false }: PageStimulusDeps): PageStimulus {
  const listeners = new Set<(state: StimulusState) => void>()
  let state: StimulusState = {
    kind: 'page',
    connected: false,
    fullScreen: false,
    measuredHz: null,
    frames: 0,
    level: null,
    problem: '',
  }
  let page: Page | null = null
  let pending: Pending | null = null
  let frameMs: number | null = null
  let token = 0
  let waiting: {
    readonly token: number
    readonly resolve: (r: Reaction) => void
    readonly reject: (e: AppError) => void
  } | null = null

  const patch = (change: Partial<StimulusState>): void => {
    state = { ...state, ...change }
    for (const listener of listeners) listener(state)
  }

  const leave = (left: Page): void => {
    left.ended = true
    left.wake()
    if (page !== left) return
    page = null
    frameMs = null
    patch({ connected: false, fullScreen: false, measuredHz: null, frames: 0, level: null, problem: '' })
    pending?.reject(absent())
    waiting?.reject(absent())
    waiting = null
  }

  const command = (message: StimulusCommand): void => {
    if (page === null) throw absent()
    page.commands.push(message)
    page.wake()
  }

  /** Sends a command and waits for its answer; only one is ever under way. */
  const ask = async <K extends Pending['kind']>(
    message: StimulusCommand,
    kind: K,
    timeoutS: number,
    signal: AbortSignal | undefined,
  ): Promise<Extract<StimulusReport, { kind: K }>> => {
    if (pending !== null) throw new AppError('conflict', 'The stimulus page is still busy with the last command.')
    if (signal?.aborted === true) throw new AppError('cancelled', 'The work was cancelled.')
    const stop = new AbortController()
    const onAbort = (): void => pending?.reject(new AppError('cancelled', 'The work was cancelled.'))
    const answer = new Promise<Answered>((resolve, reject) => {
      pending = { kind, token: 'token' in message ? message.token : null, resolve, reject }
    })
    signal?.addEventListener('abort', onAbort, { once: true })
    const late = clock.sleep(timeoutS, stop.signal).then(
      () => {
        throw new AppError(
          'stimulus-absent',
          `The stimulus page did not answer within ${timeoutS.toFixed(0)} s.`,
          'Keep the page visible and in front on the display under test: hidden pages draw no frames.',
        )
      },
      () => new Promise<never>(nothing),
    )
    try {
      command(message)
      return (await Promise.race([answer, late])) as Extract<StimulusReport, { kind: K }>
    } finally {
      pending = null
      stop.abort()
      signal?.removeEventListener('abort', onAbort)
    }
  }

  return {
    state: () => state,
    onState(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },

    async prepare(plan, signal, heights): Promise<void> {
      const rows = heights?.patches ?? [0.5]
      const level = plan.levels[0] ?? 0
      const { sizePct, surround } = plan.patch
      const slowestS = (2 * MEASURE_FRAMES) / plan.refreshHz
      const message = { kind: 'prepare', sizePct, surround, level, measureFrames: MEASURE_FRAMES, rows } as const
      const answer = await ask(message, 'prepared', slowestS + 5, signal)
      const measuredHz = 1000 / answer.medianFrameMs
      frameMs = answer.medianFrameMs
      const problem = problemOf(answer, measuredHz, plan.refreshHz)
      patch({ measuredHz, frames: answer.frames, level, problem: problem?.message ?? unsteadiness(answer) })
      if (problem !== null) throw problem
    },

    async show(level: number, signal?: AbortSignal): Promise<FrameLog> {
      token += 1
      const answer = await ask({ kind: 'show', token, level }, 'shown', SHOW_TIMEOUT_S, signal)
      patch({ level })
      return {
        source: 'page',
        frameMs,
        switchMs: answer.switchMs,
        dropped: answer.dropped,
      }
    },

    async picture(picture, signal) {
      token += 1
      await ask({ kind: 'picture', token, picture }, 'shown', SHOW_TIMEOUT_S, signal)
      patch({ level: picture.mark ? null : Math.max(...picture.rgb) })
    },

    // A person does.
    holdAt: async () => undefined,

    async react(level: number, signal: AbortSignal) {
      token += 1
      const mine = token
      await ask({ kind: 'react', token, level }, 'armed', SHOW_TIMEOUT_S, signal)
      const onAbort = (): void => {
        if (waiting?.token !== mine) return
        waiting.reject(new AppError('cancelled', 'The work was cancelled.'))
        waiting = null
        if (page !== null) command({ kind: 'disarm' })
      }
      const reacted = new Promise<Reaction>((resolve, reject) => {
        waiting = { token: mine, resolve, reject }
        signal.addEventListener('abort', onAbort, { once: true })
      }).finally(() => signal.removeEventListener('abort', onAbort))
      // Given up before anybody waits for it: no error of its own.
      reacted.catch(() => undefined)
      return { reacted }
    },

    async release(): Promise<void> {
      if (page !== null) command({ kind: 'release' })
      patch({ level: null })
    },

    async *attach(connection: string, signal: AbortSignal): AsyncGenerator<StimulusCommand, void> {
      if (signal.aborted) return
      const mine: Page = { connection, commands: [], wake: nothing, ended: false }
      const onAbort = (): void => leave(mine)
      if (page !== null) {
        log.warn('Another stimulus page took over.')
        leave(page)
      }
      page = mine
      signal.addEventListener('abort', onAbort, { once: true })
      patch({ kind: inWindow() ? 'window' : 'page', connected: true, problem: '' })
      try {
        while (!mine.ended) {
          const next = mine.commands.shift()
          if (next !== undefined) yield next
          else
            // Waiting for the next command is what this stream does.
            // oxlint-disable-next-line no-await-in-loop
            await new Promise<void>((resolve) => {
              mine.wake = resolve
            })
        }
      } finally {
        signal.removeEventListener('abort', onAbort)
        leave(mine)
      }
    },

    report(connection: string, report: StimulusReport): void {
      if (page?.connection !== connection) return
      if (report.kind === 'ready') {
        patch({
          fullScreen: report.fullScreen,
          problem: report.fullScreen ? '' : 'The stimulus page is not full screen.',
        })
        return
      }
      if (report.kind === 'reacted') {
        if (waiting?.token !== report.token) return
        waiting.resolve({ handlerMs: report.handlerMs })
        waiting = null
        return
      }
      if (pending?.kind !== report.kind) return
      if ('token' in report && report.token !== pending.token) return
      pending.resolve(report)
    },
  }
}

function problemOf(answer: Prepared, measuredHz: number, plannedHz: number): AppError | null {
  if (answer.frames < MEASURE_FRAMES * 0.9)
    return new AppError(
      'stimulus-mismatch',
      `The stimulus page counted ${answer.frames} frames; ${MEASURE_FRAMES} are needed to measure the refresh rate.`,
      'Keep the page in front and visible on the display under test.',
    )
  if (Math.abs(measuredHz - plannedHz) <= REFRESH_TOLERANCE * plannedHz) return null
  return new AppError(
    'stimulus-mismatch',
    `The display runs at ${measuredHz.toFixed(2)} Hz (${answer.frames} frames), the plan says ${plannedHz} Hz.`,
    'Set the refresh rate in the system settings, or change the plan; turn variable refresh off.',
  )
}

function unsteadiness({ medianFrameMs, spreadMs }: Prepared): string {
  return spreadMs > UNSTEADY_SHARE * medianFrameMs
    ? `Frames come unsteadily (${medianFrameMs.toFixed(2)} ms ± ${spreadMs.toFixed(2)} ms); expect retakes.`
    : ''
}
