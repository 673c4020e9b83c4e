/**
 * A host on an instrument and a display that share no code with the simulated rig: light follows each change of level by
 * a closed form, and the instrument samples it from the instant at which it says it was triggered.
 */
import { createExporter } from '#main/export/exporter.ts'
import { createPublisher } from '#main/publish/publisher.ts'
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createCore } from '#main/core/core.ts'
import type { Clock, ReactingStimulus, Store } from '#main/core/ports.ts'
import { createStaging } from '#main/platform/staging.ts'
import { createRig } from '#main/rig/api/rig-manager.ts'
import { createStimulusRouter } from '#main/stimulus/router.ts'
import { openStore } from '#main/store/store.ts'
import { block, FakeInstrument } from '../rig/support/fake-instrument.ts'
import { IN_THREAD, SILENT } from './bench-core.ts'
import { jumpingClock } from './jumping-clock.ts'
import { libraryWith } from './library.ts'
import { createStoreWorker } from './workers.ts'

const TAU_S = 0.003
/** From the request of a level to the light's first change, s. */
const LATENCY_S = 0.02
const NOISE_CODES = 3

interface Change {
  readonly at: number
  readonly level: number
}

/** Volts of a first-order display: exponential towards each new level, 4 V at white. */
export class FirstOrderLight {
  readonly #changes: Change[] = [{ at: -1e9, level: 0 }]

  change(level: number, at: number): void {
    this.#changes.push({ at, level })
  }

  volts(at: number): number {
    let value = 0
    for (const [i, change] of this.#changes.entries()) {
      if (change.at > at) break
      const until = Math.min(at, this.#changes[i + 1]?.at ?? Infinity)
      const goal = 0.02 + 4 * (change.level / 255) ** 2.2
      value = goal + (value - goal) * Math.exp(-(until - change.at) / TAU_S)
    }
    return value
  }

  /** First instant from which the light is on the other side of a voltage; null while there is none yet. */
  crossing(volts: number, rising: boolean, from: number, until: number): number | null {
    for (let at = from; at < until; at += 1e-4) if (this.volts(at) > volts === rising) return at
    return null
  }
}

export interface InstrumentHabits {
  /** Fires at once, whatever level was set, as a rig does that takes the command and ignores it. */
  readonly ignoresLevel: boolean
  /** Changes the codes of a record on their way out. */
  readonly spoil?: (codes: Int16Array, record: number) => void
}

export interface LightInstrument {
  readonly instrument: FakeInstrument
  readonly light: FirstOrderLight
  /** Trigger sources of the acquisitions that were fetched. */
  readonly sources: string[]
}

/** Completes the scripted instrument by a clock: when it is triggered, and what it then has recorded. */
export function lightInstrument(clock: Clock, habits: InstrumentHabits): LightInstrument {
  const instrument = new FakeInstrument()
  const light = new FirstOrderLight()
  const sources: string[] = []
  let armedAt: number | null = null
  let triggeredAt: number | null = null
  let record = 0
  let complete = false
  const setting = (name: string): number => Number(instrument.settings[name] ?? 0)
  const source = (): string => instrument.settings['TRIG:SOUR'] ?? 'IMM'
  const preS = (): number => -setting('SENS:SWE:OFFS:POIN') * setting('SENS:SWE:TINT')
  const look = (): void => {
    if (armedAt === null || complete) return
    const now = clock.now()
    if (triggeredAt === null) {
      const ready = armedAt + preS()
      if (source() === 'IMM' || (source() === 'INT' && habits.ignoresLevel)) triggeredAt = ready <= now ? ready : null
      else if (source() === 'INT')
        triggeredAt = light.crossing(setting('TRIG:LEV'), instrument.settings['TRIG:SLOP'] === 'POS', ready, now)
    }
    const postS = setting('SENS:SWE:POIN') * setting('SENS:SWE:TINT') - preS()
    if (triggeredAt !== null && now > triggeredAt + postS) complete = true
  }
  const { script } = instrument
  script.set('INIT', () => {
    armedAt = clock.now()
    triggeredAt = null
    complete = false
    return null
  })
  script.set('ABOR', () => {
    armedAt = null
    return null
  })
  script.set('*TRG', () => {
    triggeredAt = clock.now()
    return null
  })
  script.set('*ESR?', () => {
    look()
    return complete ? '1' : '0'
  })
  script.set('STAT:OPER:COND?', () => {
    look()
    if (armedAt === null || complete) return '0'
    return triggeredAt === null && clock.now() >= armedAt + preS() ? '32' : '8'
  })
  script.set('FETC?', () => {
    record += 1
    sources.push(source())
    const start = (triggeredAt ?? 0) - preS()
    const perVolt = 32_768 / setting('SENS:VOLT:RANG:UPP')
    let seed = record
    const codes = Int16Array.from({ length: setting('SENS:SWE:POIN') }, (_, i) => {
      seed = (seed * 48_271 + 11) % 2_147_483_647
      const noise = NOISE_CODES * ((seed / 2_147_483_647) * 2 - 1)
      return Math.round(light.volts(start + i * setting('SENS:SWE:TINT')) * perVolt + noise)
    })
    habits.spoil?.(codes, record)
    const bytes = Buffer.alloc(2 * codes.length)
    for (const [i, code] of codes.entries()) bytes.writeInt16LE(code, 2 * i)
    return block(bytes)
  })
  instrument.headers = instrument.headers.filter((header) => !header.includes('CRC'))
  return { instrument, light, sources }
}

const notHere = (): Promise<never> => Promise.reject(new Error('not part of this harness'))

export async function openIndependentBench(habits: InstrumentHabits): Promise<
  LightInstrument & {
    readonly core: Awaited<ReturnType<typeof createCore>>
    readonly store: Store
    close(): Promise<void>
  }
> {
  const folder = await mkdtemp(join(tmpdir(), 'slewlight-independent-'))
  const jumping = jumpingClock()
  const { clock } = jumping
  const made = lightInstrument(clock, habits)
  const rig = createRig({
    clock,
    log: SILENT,
    openSerial: async () => made.instrument.plug(),
    listSerialPorts: async () => [],
    openSimulated: notHere,
  })
  const path = join(folder, 'a.slewlight')
  const store = jumping.watched(await openStore({ path, createWorker: createStoreWorker, clock, log: SILENT }))
  const stimulus: ReactingStimulus = {
    state: () => ({
      kind: 'page',
      connected: true,
      fullScreen: true,
      measuredHz: 60,
      frames: 0,
      level: null,
      problem: '',
    }),
    onState: () => () => undefined,
    prepare: async () => undefined,
    show: async (level) => {
      const at = clock.now() + LATENCY_S
      made.light.change(level, at)
      const switchMs = 1000 * at
      return { source: 'page', frameMs: 1000 / 60, switchMs, frameTimesMs: [switchMs], dropped: false }
    },
    react: notHere,
    picture: notHere,
    holdAt: notHere,
    release: async () => undefined,
  }
  const core = await createCore({
    publisher: createPublisher(),
    store,
    rig,
    stimulus: createStimulusRouter({ simulated: stimulus, page: stimulus }),
    analyzer: IN_THREAD,
    library: libraryWith(IN_THREAD),
    exporter: createExporter(store),
    staging: createStaging({ clock, maxFileBytes: 2 ** 24, maxBytes: 2 ** 26, staleS: 3600 }),
    clock,
    log: SILENT,
    version: '0.0.0',
    host: 'server',
  })
  await core.rig.connect({ kind: 'serial', path: '/dev/example', baudRate: 115_200 })
  await core.system.acknowledgeWarning({ understood: true })
  return {
    ...made,
    core,
    store,
    async close() {
      await core.close()
      jumping.stop()
      await rm(folder, { recursive: true, force: true })
    },
  }
}
