import { z } from 'zod'

/** Invented display panels of the simulated rig. */
export const PANEL_IDS = ['swift', 'dusk', 'plain'] as const
export type PanelId = (typeof PANEL_IDS)[number]
/** The simulated display's own overdrive settings; a plan's `setting` of the same name selects it. */
export const SIM_SETTINGS = ['Off', 'Gentle', 'Strong', 'Extreme'] as const
export type SimSetting = (typeof SIM_SETTINGS)[number]
export const BACKLIGHTS = ['steady', 'pwm', 'strobe'] as const
export type Backlight = (typeof BACKLIGHTS)[number]

/** Parameters of the embedded simulated rig and its invented display. */
export const simulationSchema = z.strictObject({
  panel: z.enum(PANEL_IDS).default('swift'),
  backlight: z.enum(BACKLIGHTS).default('steady'),
  /** PWM frequency, Hz; strobing always follows the refresh rate. */
  pwmHz: z.number().min(50).max(20_000).default(240),
  seed: z.int().min(0).max(0xffffffff).default(1),
  /** White noise of the digitizer, which no bandwidth limits, V rms. */
  noiseV: z.number().min(0).max(1).default(0.002),
  /** Photocurrent at white, A: shot and thermal noise in front of the detector's bandwidth follow from it; 0 = none. */
  photocurrentA: z.number().min(0).max(0.01).default(1e-6),
  /** 1/f noise of the detector at 1 Hz, V/√Hz. */
  flickerV: z.number().min(0).max(0.1).default(5e-5),
  /** Share of a strobe's light that is left between its pulses. */
  glow: z.number().min(0).max(0.5).default(0),
  /** Mains hum picked up by the detector, V peak. */
  humV: z.number().min(0).max(1).default(0),
  /** Detector −3 dB bandwidth, Hz. */
  detectorHz: z.number().min(500).max(1_000_000).default(50_000),
  /** Detector output at white, V, and with no light, V. */
  whiteV: z.number().min(0.05).max(50).default(4),
  darkV: z.number().min(-1).max(1).default(0.02),
  bits: z.int().min(8).max(16).default(16),
  /** Time the display keeps a frame before it shows it, s, and whole frames that wait before that. */
  signalDelayS: z.number().min(0).max(0.5).default(0),
  queuedFrames: z.int().min(0).max(10).default(0),
  /** An input event's way to the display's next frame: a fixed time and the wait for the device's next poll, s. */
  hostDelayS: z.number().min(0).max(0.5).default(0.002),
  pollS: z.number().min(0).max(0.05).default(0.001),
  /** A second input that shows the contact of the input device, and for how long a contact bounces, s. */
  eventChannel: z.boolean().default(false),
  bounceS: z.number().min(0).max(0.02).default(0),
})
export type Simulation = z.infer<typeof simulationSchema>

export const rigTargetSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('simulated'), simulation: simulationSchema.default(simulationSchema.parse({})) }),
  z.strictObject({
    kind: z.literal('serial'),
    path: z.string().min(1).max(300),
    baudRate: z.int().min(300).max(12_000_000).default(115_200),
    /** Control socket of a simulated rig on a pseudo-terminal; absent for a real one. */
    controlPath: z.string().max(300).optional(),
  }),
])
export type RigTarget = z.infer<typeof rigTargetSchema>

/** The four fields of *IDN?. */
export interface RigIdentity {
  readonly manufacturer: string
  readonly model: string
  readonly serial: string
  readonly firmware: string
}

export interface RigCapabilities {
  /** Headers as answered by SYSTem:HELP:HEADers?; empty when the rig has no such query. */
  readonly headers: readonly string[]
  readonly crc: boolean
}

export type RigStatus = 'absent' | 'connecting' | 'ready' | 'recording' | 'lost'

export interface RigState {
  readonly status: RigStatus
  readonly target: RigTarget | null
  readonly identity: RigIdentity | null
  readonly capabilities: RigCapabilities | null
  /** What is wrong and what to do, when absent or lost. */
  readonly problem: { readonly message: string; readonly remedy: string } | null
  /** Blocks that had to be thrown away since connecting. */
  readonly losses: number
}

/** Faults the simulated rig produces on command. */
export const SIM_FAULTS = [
  'unplug',
  'replug',
  'stall',
  'noise-burst',
  'wrong-length',
  'flipped-bytes',
  'clipped',
  'covered',
  'slow-link',
  'none',
] as const
export type SimFault = (typeof SIM_FAULTS)[number]

/** What the detector gives without light. */
export interface DarkLevel {
  readonly meanV: number
  /** Spread of the samples, V. */
  readonly sdV: number
  readonly rangeV: number
  /** ISO 8601 UTC. */
  readonly takenAt: string
}

export interface SerialPortInfo {
  readonly path: string
  readonly label: string
}
