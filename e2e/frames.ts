/**
 * What a page costs while it runs, read from Chromium's own trace: the time its main thread works for each frame, and
 * when frames are begun.
 */
import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright/test'
import { type Figure, percentile } from '../test/bench/report.ts'
import { ROOT } from './processes.ts'

interface TraceEvent {
  readonly name: string
  readonly ph: string
  readonly pid: number
  readonly tid: number
  /** Microseconds. */
  readonly ts: number
  readonly dur?: number
  /** Of the thread's own processor time, microseconds. */
  readonly tdur?: number
  readonly args?: { readonly name?: string }
}

export interface Frames {
  /** Work of the page's main thread between the start of a frame and the start of the next one, ms. */
  readonly workMs: readonly number[]
  /** Processor time of that work, ms: what is left of it when no other thread takes the core. */
  readonly cpuMs: readonly number[]
  /** Time from the start of a frame to the start of the next one, ms. */
  readonly intervalMs: readonly number[]
}

const FRAME_MS = 1000 / 60

const CATEGORIES = [
  '-*',
  '__metadata',
  'toplevel',
  'devtools.timeline',
  'disabled-by-default-devtools.timeline',
  'disabled-by-default-devtools.timeline.frame',
]

interface Counting {
  /**
   * Counts the frames in which nothing is drawn, too. Of a plot that runs by itself the figure is a share of the sixty
   * frames that a screen shows each second. A page that asks for every one of them has each counted; a page that asks
   * only for those it draws does less, and would be judged by its heaviest frames alone.
   */
  readonly rests?: boolean
}

/** Records the trace while `work` runs. */
export async function traced(
  browser: Browser,
  page: Page,
  work: () => Promise<void>,
  counting: Counting = {},
): Promise<Frames> {
  await browser.startTracing(page, { categories: CATEGORIES })
  await work()
  const trace = JSON.parse((await browser.stopTracing()).toString()) as { traceEvents: TraceEvent[] }
  return framesOf(trace.traceEvents, counting)
}

const isTask = (event: TraceEvent): boolean => event.ph === 'X' && event.name.endsWith('RunTask')
const isFrame = (event: TraceEvent): boolean => event.name === 'BeginMainThreadFrame'

/** Frames of the page whose main thread began the most of them. */
export function framesOf(events: readonly TraceEvent[], { rests = false }: Counting = {}): Frames {
  const threads = new Map<string, TraceEvent[]>()
  for (const event of events)
    if (event.name === 'thread_name' && event.args?.name === 'CrRendererMain')
      threads.set(`${event.pid}:${event.tid}`, [])
  for (const event of events) if (isTask(event) || isFrame(event)) threads.get(`${event.pid}:${event.tid}`)?.push(event)
  const thread = [...threads.values()].toSorted((a, b) => b.filter(isFrame).length - a.filter(isFrame).length)[0] ?? []
  const begun = thread
    .filter(isFrame)
    .map((event) => event.ts)
    .toSorted((a, b) => a - b)
  const tasks = outermost(thread.filter(isTask))
  const starts = rests ? withRests(begun, tasks) : begun
  const workMs: number[] = []
  const cpuMs: number[] = []
  const intervalMs: number[] = []
  let next = 0
  for (let i = 0; i + 1 < starts.length; i++) {
    const [from, to] = [starts[i] as number, starts[i + 1] as number]
    let work = 0
    let cpu = 0
    while (next > 0 && endOf(tasks[next - 1] as TraceEvent) > from) next--
    for (; next < tasks.length; next++) {
      const task = tasks[next] as TraceEvent
      if (task.ts >= to) break
      const part = Math.max(0, Math.min(endOf(task), to) - Math.max(task.ts, from))
      work += part
      // Spread evenly over a task that two frames share.
      if (part > 0) cpu += ((task.tdur ?? 0) * part) / (task.dur ?? part)
    }
    workMs.push(work / 1000)
    cpuMs.push(cpu / 1000)
    intervalMs.push((to - from) / 1000)
  }
  return { workMs, cpuMs, intervalMs }
}

/**
 * Puts a start wherever a screen would have shown a frame that the page did not ask for: every 1/60 s after the last one
 * begun. Where the page's thread is at work at that instant there is none: the work goes on counting for the frame
 * before, which it holds up.
 */
function withRests(begun: readonly number[], tasks: readonly TraceEvent[]): number[] {
  const frameUs = FRAME_MS * 1000
  const starts: number[] = []
  let next = 0
  begun.forEach((from, i) => {
    starts.push(from)
    const to = begun[i + 1] ?? from
    // One that is less than half a frame from the next is the next.
    for (let n = 1; from + (n + 0.5) * frameUs <= to; n++) {
      const at = from + n * frameUs
      while (next < tasks.length && endOf(tasks[next] as TraceEvent) <= at) next++
      const task = tasks[next]
      if (task === undefined || task.ts >= at) starts.push(at)
    }
  })
  return starts
}

const endOf = (task: TraceEvent): number => task.ts + (task.dur ?? 0)

/** Tasks inside other tasks are part of them already. */
function outermost(tasks: readonly TraceEvent[]): TraceEvent[] {
  const kept: TraceEvent[] = []
  for (const task of tasks.toSorted((a, b) => a.ts - b.ts || endOf(b) - endOf(a))) {
    const last = kept.at(-1)
    if (last === undefined || task.ts >= endOf(last)) kept.push(task)
  }
  return kept
}

export function describeFrames(frames: Frames): string {
  const late = frames.intervalMs.filter((ms) => ms > 1.5 * FRAME_MS).length / frames.intervalMs.length
  return (
    `${frames.workMs.length} frames, work p50 ${percentile(frames.workMs, 0.5).toFixed(1)} ms, ` +
    `p95 ${percentile(frames.workMs, 0.95).toFixed(1)} ms, longest ${Math.max(...frames.workMs).toFixed(1)} ms, ` +
    `processor time of it p95 ${percentile(frames.cpuMs, 0.95).toFixed(1)} ms, ` +
    `${(100 * late).toFixed(1)} % begun more than half a frame late`
  )
}

/** Where `npm run bench` finds them. */
export function writeFigures(name: string, figures: readonly Figure[]): void {
  mkdirSync(join(ROOT, 'test-results'), { recursive: true })
  writeFileSync(join(ROOT, `test-results/figures-${name}.json`), JSON.stringify(figures))
}
