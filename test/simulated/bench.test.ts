import { afterEach, describe, expect, it } from 'vitest'
import { createRig, type ManagedRig } from '#main/rig/api/rig-manager.ts'
import { createSimulatedBench, type SimulatedBench } from '#main/rig/simulated/simulated-bench.ts'
import { createSimulatedRigs, type SimulatedRigs } from '#main/rig/simulated/simulated-rigs.ts'
import type { ByteLink } from '#main/rig/transport/link.ts'
import { createSimulatedStimulus } from '#main/stimulus/simulated.ts'
import type { Stimulus } from '#main/core/ports.ts'
import { simulationSchema, type PanelId, type SimSetting, type Simulation } from '#shared/domain/rig.ts'
import { AppError } from '#shared/domain/errors.ts'
import { luminanceOf, PANELS } from '#main/rig/simulated/panel/panels.ts'
import { truthFirstPulsePct, truthOf } from './truth.ts'
import { blockBytes } from './instrument-rig.ts'
import { manualClock, type ManualClock } from './manual-clock.ts'
import { compareWithTruth, planOf, SILENT, sweepOnce } from './sweep.ts'

const ends: (() => Promise<void> | void)[] = []
afterEach(async () => {
  for (let end = ends.pop(); end; end = ends.pop()) await end()
})

interface Talk {
  readonly clock: ManualClock
  readonly bench: SimulatedBench
  readonly link: ByteLink
  /** Sends a message, lets time pass and answers with all that came. */
  ask(message: string, seconds?: number): Promise<string>
}

/** A detector and a digitizer without noise. */
const SILENT_INPUT = { noiseV: 0, photocurrentA: 0, flickerV: 0 }
/** A detector with so much light that its own noise is small beside the digitizer's. */
const BRIGHT = { photocurrentA: 1e-4, flickerV: 1e-6 }

async function talk(changes: Partial<Simulation> = {}): Promise<Talk> {
  const clock = manualClock()
  const bench = createSimulatedBench({ simulation: simulationSchema.parse({ ...SILENT_INPUT, ...changes }), clock })
  ends.push(() => bench.dispose())
  const link = await bench.open()
  let out = ''
  link.onData((chunk) => {
    out += Buffer.from(chunk).toString('latin1')
  })
  return {
    clock,
    bench,
    link,
    async ask(message, seconds = 0) {
      out = ''
      await link.write(Buffer.from(`${message}\n`, 'latin1'))
      await clock.advance(seconds)
      return out.replace(/\n$/, '')
    },
  }
}

function volts(answer: string, rangeV: number): number[] {
  const bytes = blockBytes(answer)
  const view = new DataView(bytes.buffer)
  return Array.from({ length: bytes.length / 2 }, (_, i) => (view.getInt16(2 * i) * rangeV) / 32_768)
}

const SETUP = 'SENS:VOLT:RANG 5;:SENS:SWE:TINT 2E-5;POIN 5000;OFFS:POIN -1000;:FORM INT,16'

async function captured(t: Talk, level: number, triggerV: number, slope: 'POS' | 'NEG'): Promise<number[]> {
  await t.ask(`${SETUP};:TRIG:SOUR INT;LEV ${triggerV};SLOP ${slope};:INIT`, 0.03)
  const shown = t.bench.show(level)
  await t.clock.advance(0.3)
  await shown
  return volts(await t.ask('FETC?'), 5)
}

describe('bench against truth', () => {
  it.each([
    ['swift', 'Off', 60, 0, 255],
    ['plain', 'Strong', 144, 51, 204],
    ['dusk', 'Extreme', 100, 204, 51],
    ['swift', 'Extreme', 60, 102, 153],
  ] as const)('%s %s at %i Hz, %i to %i: the record is the truth', async (panel, setting, refreshHz, from, to) => {
    const t = await talk({ panel })
    t.bench.setSetting(setting)
    t.bench.setRefresh(refreshHz)
    const first = t.bench.show(from)
    await t.clock.advance(1)
    await first
    const truth = truthOf({ panel, setting, refreshHz, from, to })
    const level = 0.02 + 3.98 * ((truth.start + truth.end) / 2)
    const record = await captured(t, to, level, to > from ? 'POS' : 'NEG')
    // The moment of the crossing in the truth, by its own waveform; the record's trigger sits at most a sample later.
    const fine = truth.waveform(0, 1e-7, 200_000, 50_000)
    const crossing = fine.findIndex((v) => (0.02 + 3.98 * v - level) * Math.sign(to - from) >= 0) * 1e-7
    let best = Infinity
    for (let shift = 0; shift <= 2e-5; shift += 2e-7) {
      const expected = truth.waveform(crossing + shift - 1000 * 2e-5, 2e-5, 5000, 50_000)
      let worst = 0
      record.forEach((v, i) => {
        worst = Math.max(worst, Math.abs(v - 0.02 - 3.98 * (expected[i] ?? 0)))
      })
      best = Math.min(best, worst)
    }
    // Half a step of the converter, and what a shift found to 0.2 µs leaves.
    expect(best).toBeLessThan(5 / 65_536 + 2e-4)
  })

  it('settles at the tone curve for every level, whatever the panel', async () => {
    for (const panel of ['swift', 'plain', 'dusk'] as const) {
      const t = await talk({ panel })
      for (const level of [0, 1, 51, 128, 254, 255]) {
        const shown = t.bench.show(level)
        await t.clock.advance(1)
        await shown
        await t.ask(`${SETUP};:SENS:SWE:POIN 20;OFFS:POIN 0;:TRIG:SOUR IMM;:INIT`, 0.1)
        for (const v of volts(await t.ask('FETC?'), 5))
          expect(Math.abs(v - (0.02 + 3.98 * luminanceOf(PANELS[panel], level)))).toBeLessThan(5 / 65_536 + 1e-6)
      }
    }
  })

  it('has the noise it was given, the same for the same seed and different for another', async () => {
    const records = await Promise.all(
      [7, 7, 8].map(async (seed) => {
        const t = await talk({ seed, noiseV: 0.01 })
        await t.ask(`${SETUP};:TRIG:SOUR IMM;:INIT`, 0.2)
        return volts(await t.ask('FETC?'), 5)
      }),
    )
    const [a = [], b = [], c = []] = records
    expect(b).toEqual(a)
    expect(c).not.toEqual(a)
    const mean = a.reduce((x, y) => x + y, 0) / a.length
    const sd = Math.sqrt(a.reduce((x, y) => x + (y - mean) ** 2, 0) / a.length)
    // Standard error of a standard deviation: 0.01 ÷ √(2·5000) = 1e-4; five of them.
    expect(Math.abs(sd - 0.01)).toBeLessThan(5e-4)
  })

  it("has the detector's own noise: more of it in the light, limited in bandwidth, none with the input cut off", async () => {
    const t = await talk({ photocurrentA: 1e-8, detectorHz: 1000, bits: 16 })
    const records = async (setup: string): Promise<number[]> => {
      await t.ask(`${setup};:TRIG:SOUR IMM;:INIT`, 0.2)
      return volts(await t.ask('FETC?'), 5)
    }
    const spread = (values: readonly number[], lag = 0): number => {
      const mean = values.reduce((x, y) => x + y, 0) / values.length
      const pairs = values.slice(lag).map((y, i) => (y - mean) * ((values[i] as number) - mean))
      return pairs.reduce((x, y) => x + y, 0) / pairs.length
    }
    const dark = await records(SETUP)
    const shown = t.bench.show(255)
    await t.clock.advance(0.5)
    await shown
    const white = await records(SETUP)
    // Shot noise of 10 nA in 398 MΩ (3.98 V): √(2qI)·R = 22.5 µV/√Hz, thermal 2.57 µV/√Hz, through (π/2)·1 kHz.
    const density = 2 * 1.602e-19 * 1e-8 * 3.98e8 ** 2
    const thermal = 4 * 1.381e-23 * 300 * 3.98e8
    const expected = (density + thermal) * (Math.PI / 2) * 1000
    // 5,000 correlated samples (τ of 16 samples at 50 kS/s): a standard error of 5 % of the variance; five of them.
    expect(Math.abs(spread(white) / expected - 1)).toBeLessThan(0.25)
    expect(spread(white, 1) / spread(white)).toBeGreaterThan(0.8)
    expect(spread(dark)).toBeLessThan(0.1 * spread(white))
    expect(spread(await records(`${SETUP};:INP:STAT OFF`))).toBe(0)
  })

  it('picks up hum, and sees nothing but its offset when covered', async () => {
    const t = await talk({ humV: 0.1 })
    const shown = t.bench.show(255)
    await t.clock.advance(0.5)
    await shown
    t.bench.cover(true)
    await t.ask(`${SETUP};:SENS:SWE:POIN 2000;OFFS:POIN 0;:TRIG:SOUR IMM;:INIT`, 0.1)
    const record = volts(await t.ask('FETC?'), 5)
    expect(Math.max(...record)).toBeCloseTo(0.12, 3)
    expect(Math.min(...record)).toBeCloseTo(-0.08, 3)
    expect(record[0]).toBeCloseTo(record[1000] ?? 0, 2)
  })

  it('a strobed backlight gives one pulse a frame', async () => {
    const t = await talk({ backlight: 'strobe' })
    t.bench.setRefresh(100)
    const shown = t.bench.show(255)
    await t.clock.advance(0.5)
    await shown
    await t.ask(`${SETUP};:SENS:SWE:POIN 25000;:TRIG:SOUR IMM;:INIT`, 0.6)
    const record = volts(await t.ask('FETC?'), 5)
    const rises = record.filter((v, i) => i > 0 && v > 2 && (record[i - 1] ?? 0) <= 2).length
    expect(Math.abs(rises - 50)).toBeLessThanOrEqual(1)
    expect(record.filter((v) => v > 2).length / record.length).toBeCloseTo(0.1, 2)
  })

  it('latches levels at frames of its own clock and says which', async () => {
    const t = await talk()
    t.bench.setRefresh(50)
    const started = t.clock.now()
    const shown = t.bench.show(200)
    await t.clock.advance(0.1)
    const log = await shown
    expect(log.frameMs).toBeCloseTo(20, 9)
    expect(log.switchMs).toBeGreaterThan(started * 1000)
    expect(log.switchMs - started * 1000).toBeLessThanOrEqual(20 + 1e-6)
    expect(log.dropped).toBe(false)
  })
})

describe('faults', () => {
  it('unplug ends the link and refuses another until replug', async () => {
    const t = await talk()
    let reason = ''
    t.link.onClose((why) => {
      reason = why
    })
    await t.bench.inject('unplug')
    expect(reason).toContain('pulled')
    await expect(t.bench.open()).rejects.toThrow(AppError)
    await expect(t.link.write(Buffer.from('*IDN?\n'))).rejects.toThrow()
    await t.bench.inject('replug')
    const link = await t.bench.open()
    let out = ''
    link.onData((chunk) => {
      out += Buffer.from(chunk).toString()
    })
    await link.write(Buffer.from('*IDN?\n'))
    await t.clock.advance(0.01)
    expect(out).toMatch(/^Slewlight,/)
  })

  it('stall silences it until none', async () => {
    const t = await talk()
    await t.bench.inject('stall')
    expect(await t.ask('*IDN?', 5)).toBe('')
    await t.bench.inject('none')
    expect(await t.ask('*ESE?', 0.1)).toBe('0')
  })

  it.each(['noise-burst', 'wrong-length', 'flipped-bytes'] as const)(
    '%s spoils one block and no other',
    async (fault) => {
      const t = await talk()
      await t.ask(`${SETUP};:TRIG:SOUR IMM;:INIT`, 0.3)
      const good = await t.ask('FETC?')
      const crc = await t.ask('DIAG:DATA:CRC?')
      await t.bench.inject(fault)
      const bad = await t.ask('FETC?')
      expect(bad).not.toBe(good)
      if (fault === 'flipped-bytes') expect(bad).toHaveLength(good.length)
      if (fault === 'wrong-length') expect(bad.length).toBeLessThan(good.length)
      if (fault === 'noise-burst') expect(bad.length).toBeGreaterThan(good.length)
      expect(await t.ask('DIAG:DATA:CRC?')).toBe(crc)
      expect(await t.ask('FETC?')).toBe(good)
    },
  )

  it('clipped runs every record into the rail until none', async () => {
    const t = await talk()
    await t.bench.inject('clipped')
    await t.ask(`${SETUP};:TRIG:SOUR IMM;:INIT`, 0.3)
    expect(await t.ask('STAT:QUES?')).toBe('1')
    expect(Math.max(...volts(await t.ask('FETC?'), 5))).toBeCloseTo(5, 3)
    await t.bench.inject('none')
    await t.ask('*CLS;:INIT', 0.3)
    expect(await t.ask('STAT:QUES?')).toBe('0')
  })

  it('slow-link brings about 2,000 bytes a second and says so', async () => {
    const t = await talk()
    await t.ask(`${SETUP};:TRIG:SOUR IMM;:INIT`, 0.3)
    expect(t.link.bytesPerSecond).toBeNull()
    await t.bench.inject('slow-link')
    expect(t.link.bytesPerSecond).toBe(2000)
    const part = await t.ask('FETC?', 2)
    expect(part.length).toBeGreaterThan(3800)
    expect(part.length).toBeLessThan(4200)
  })
})

interface Host {
  readonly clock: ManualClock
  readonly rig: ManagedRig
  readonly rigs: SimulatedRigs
  readonly stimulus: Stimulus
}

async function host(changes: Partial<Simulation>): Promise<Host> {
  const clock = manualClock()
  ends.push(clock.run())
  const rigs = createSimulatedRigs(clock)
  const stimulus = createSimulatedStimulus(rigs)
  const rig = createRig({
    clock,
    log: SILENT,
    openSerial: () => Promise.reject(new AppError('rig-absent', 'There are no serial ports.')),
    listSerialPorts: async () => [],
    openSimulated: rigs.open,
  })
  ends.push(() => rig.close())
  await rig.connect({ kind: 'simulated', simulation: simulationSchema.parse(changes) })
  return { clock, rig, rigs, stimulus }
}

describe('through rig manager and stimulus', () => {
  it.each([
    ['swift', 'Off', 60],
    ['swift', 'Strong', 144],
    ['swift', 'Extreme', 60],
    ['plain', 'Gentle', 100],
  ] as [PanelId, SimSetting, number][])(
    '%s %s at %i Hz: a six-level sweep finds the truth',
    async (panel, setting, hz) => {
      // A noise at which the furthest sample tells overshoot to half a point even in the smallest step (0.11 V).
      const { clock, rig, stimulus } = await host({ panel, noiseV: 0.0003, ...BRIGHT })
      const plan = planOf({ setting, refreshHz: hz })
      const cells = await sweepOnce(rig, stimulus, clock, plan)
      const found = compareWithTruth(panel, plan, cells)
      expect(found.cells).toBe(30)
      expect(found.meanError).toBeLessThan(0.02)
      expect(found.worstError).toBeLessThan(0.02)
      expect(found.worstOvershootError).toBeLessThan(0.5)
      expect(rig.state().losses).toBe(0)
    },
  )

  it('a strobed display leaves as much of the old level in its first pulse as the truth says', async () => {
    const { clock, rig, stimulus } = await host({ panel: 'plain', backlight: 'strobe', noiseV: 0.0003, ...BRIGHT })
    const plan = planOf({
      setting: 'Off',
      refreshHz: 100,
      levels: [51, 153, 255],
      preS: 0.15,
      postS: 0.3,
      spacingS: 0.5,
    })
    for (const { from, to, result } of await sweepOnce(rig, stimulus, clock, plan)) {
      const truth = truthFirstPulsePct(
        truthOf({ panel: 'plain', setting: 'Off', refreshHz: 100, from, to, backlight: 'strobe' }),
      )
      expect(truth).toBeGreaterThan(5)
      expect(Math.abs((result.values.first_pulse_crosstalk_pct ?? Number.NaN) - truth)).toBeLessThan(0.5)
    }
  })

  it('takes an unknown setting for Off and says so', async () => {
    const { rigs, stimulus } = await host({})
    await stimulus.prepare(planOf({ setting: 'Turbo 3' }))
    expect(stimulus.state().problem).toContain('Turbo 3')
    expect(rigs.current()?.display.setting).toBe('Off')
    await stimulus.prepare(planOf({ setting: 'gentle', refreshHz: 72 }))
    expect(stimulus.state().problem).toBe('')
    expect(rigs.current()?.display.setting).toBe('Gentle')
    expect(rigs.current()?.refreshHz).toBe(72)
    await stimulus.show(10)
    expect(stimulus.state()).toMatchObject({ kind: 'simulated', connected: true, level: 10 })
    expect(stimulus.state().measuredHz).toBeCloseTo(72, 6)
  })

  it('is absent without a rig', async () => {
    const { rig, stimulus } = await host({})
    await rig.disconnect()
    expect(stimulus.state().connected).toBe(false)
    await expect(stimulus.show(3)).rejects.toMatchObject({ code: 'stimulus-absent' })
  })
})
