/** A core that answers from a table and records what it was asked, for tests of what lies in front of it. */
import type { Core } from '#main/core/facade.ts'
import type { Log } from '#main/core/ports.ts'
import type { HostEvent, HostState, LiveView } from '#shared/domain/views.ts'

export const STATE: HostState = {
  rig: { status: 'absent', target: null, identity: null, capabilities: null, problem: null, losses: 0 },
  stimulus: {
    kind: 'simulated',
    connected: true,
    fullScreen: true,
    measuredHz: null,
    frames: 0,
    level: null,
    problem: '',
  },
  sweep: null,
  run: null,
  guided: null,
  jobs: [],
  recipeHash: '0123456789abcdef',
  recipeHashBefore: null,
  monitoring: false,
  warningAcknowledged: false,
}

export function liveView(columns: number, revision = 1): LiveView {
  return {
    revision,
    sweepId: null,
    meanV: 0,
    captureId: null,
    from: 0,
    to: 255,
    refreshHz: 60,
    envelope: {
      startS: 0,
      stepS: 0.001,
      min: Float32Array.from({ length: columns }, (_, i) => Math.sin(i)),
      max: Float32Array.from({ length: columns }, (_, i) => Math.sin(i) + 0.5),
    },
    result: null,
    rangeV: 5,
  }
}

export interface FakeCore {
  readonly core: Core
  readonly calls: { readonly name: string; readonly input: unknown }[]
  emit(event: HostEvent): void
  listeners(): number
  /** What a procedure does instead of answering null. */
  answer(name: string, does: (input: unknown, signal?: AbortSignal) => unknown): void
}

export function fakeCore(): FakeCore {
  const calls: { name: string; input: unknown }[] = []
  const answers = new Map<string, (input: unknown, signal?: AbortSignal) => unknown>()
  const listeners = new Set<(event: HostEvent) => void>()
  const group = (groupName: string) =>
    new Proxy(
      {},
      {
        get: (_target, method) => async (first?: unknown, second?: AbortSignal) => {
          const name = `${groupName}.${String(method)}`
          const input = first instanceof AbortSignal ? undefined : first
          calls.push({ name, input })
          return answers.get(name)?.(input, first instanceof AbortSignal ? first : second) ?? null
        },
      },
    )
  const system = new Proxy(
    {},
    {
      get: (_target, method) => {
        if (method === 'state') return () => STATE
        if (method === 'watch')
          return (listener: (event: HostEvent) => void) => {
            listeners.add(listener)
            return () => listeners.delete(listener)
          }
        return (group('system') as Record<string | symbol, unknown>)[method]
      },
    },
  )
  const groups = ['rig', 'stimulus', 'campaigns', 'sweeps', 'captures', 'recipes', 'reviews', 'files']
  const core = {
    system,
    ...Object.fromEntries(groups.map((name) => [name, group(name)])),
    close: async () => undefined,
  }
  return {
    core: core as unknown as Core,
    calls,
    emit: (event) => {
      for (const listener of listeners) listener(event)
    },
    listeners: () => listeners.size,
    answer: (name, does) => void answers.set(name, does),
  }
}

export interface RecordedLog extends Log {
  readonly lines: { readonly level: string; readonly message: string; readonly detail: unknown }[]
}

export function recordedLog(): RecordedLog {
  const lines: { level: string; message: string; detail: unknown }[] = []
  const at = (level: string) => (message: string, detail?: unknown) => void lines.push({ level, message, detail })
  return { lines, info: at('info'), warn: at('warn'), error: at('error') }
}
