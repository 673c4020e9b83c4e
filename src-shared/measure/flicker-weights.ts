/**
 * Published weightings of light modulation. Every one is labelled with its variant, because readings of the same name
 * differ by 6 dB and more. Sources that were not readable are marked "from memory".
 */

/** Threshold modulation of the stroboscopic visibility measure (IEC TR 63158 / CIE TN 006; from memory). f in Hz. */
export function svmThreshold(frequencyHz: number): number {
  return 1 / (1 + Math.exp(-0.00518 * (frequencyHz - 306.6))) + 20 * Math.exp(-frequencyHz / 10)
}

export interface Component {
  readonly frequencyHz: number
  /** Amplitude ÷ mean: 1 for a fully modulated sine. */
  readonly relative: number
  /** Standard uncertainty of it; of a component given as 0, the limit that it stays under. */
  readonly u: number
}

/** Upper end of the components that count, Hz. */
export const SVM_LIMIT_HZ = 2000

/**
 * Stroboscopic visibility measure: [Σ (C/T)^3.7]^(1/3.7) over components up to 2 kHz. 1 is the threshold of seeing.
 * u = SVM^−2.7 · √Σ(C^2.7·T^−3.7·u_C)², and what could hide under the limits of components that do not stand out.
 */
export function svm(components: readonly Component[]): { value: number; u: number } {
  let sum = 0
  let hidden = 0
  let variance = 0
  for (const { frequencyHz, relative, u } of components) {
    if (!(frequencyHz > 0 && frequencyHz <= SVM_LIMIT_HZ)) continue
    const threshold = svmThreshold(frequencyHz)
    if (relative > 0) {
      sum += (relative / threshold) ** 3.7
      variance += (relative ** 2.7 * threshold ** -3.7 * u) ** 2
    } else hidden += (u / threshold) ** 3.7
  }
  const value = sum ** (1 / 3.7)
  const most = (sum + hidden) ** (1 / 3.7)
  return { value, u: Math.hypot(value === 0 ? 0 : value ** -2.7 * Math.sqrt(variance), (most - value) / Math.sqrt(3)) }
}

/**
 * Temporal contrast sensitivity |148.7·[(1 + 2πif·0.00267)^−15 − 0.882·(1 + 2πif·1.834·0.00267)^−16]|
 * (Watson & Ahumada, SID Digest 2011, 957; read in a public report whose table it reproduces). f in Hz.
 */
export function temporalSensitivity(frequencyHz: number): number {
  const term = (tau: number, order: number): [number, number] => {
    const omega = 2 * Math.PI * frequencyHz * tau
    const magnitude = (1 + omega * omega) ** (-order / 2)
    const phase = -order * Math.atan(omega)
    return [magnitude * Math.cos(phase), magnitude * Math.sin(phase)]
  }
  const [r1, i1] = term(0.00267, 15)
  const [r2, i2] = term(1.834 * 0.00267, 16)
  return 148.7 * Math.hypot(r1 - 0.882 * r2, i1 - 0.882 * i2)
}

/** Components above this are not looked at by the visibility and dB readings, Hz. */
export const VISIBLE_LIMIT_HZ = 120

/** Weights of the older flicker tables in dB: 20 Hz 0, 30 −3, 40 −6, 50 −12, 60 and above −40 (from memory), linear between. */
const TABLE_DB: readonly (readonly [number, number])[] = [
  [20, 0],
  [30, -3],
  [40, -6],
  [50, -12],
  [60, -40],
]

/** Weight of the flicker table at a frequency, dB; 0 below 20 Hz, −40 from 60 Hz. */
export function tableWeightDb(frequencyHz: number): number {
  let [lowF, lowDb] = TABLE_DB[0] as readonly [number, number]
  if (frequencyHz <= lowF) return lowDb
  for (const [f, db] of TABLE_DB) {
    if (frequencyHz <= f) return lowDb + ((db - lowDb) * (frequencyHz - lowF)) / Math.max(1e-12, f - lowF)
    lowF = f
    lowDb = db
  }
  return lowDb
}

export interface VisibleFlicker {
  /** Largest sensitivity × contrast over f ≤ 120 Hz, just-noticeable differences. */
  readonly jnd: number
  /** Where it is, Hz. */
  readonly atHz: number
  /** Relative standard uncertainty of the contrast there. */
  readonly uRelative: number
  /** 20·log₁₀(2·P/K₀), P = sensitivity × |K|. */
  readonly dbAmplitude: number
  /** 10·log₁₀(P/K₀) of the same P: the reading of the other trade standard by one published report. */
  readonly dbHalf: number
}

/** Visibility of the most visible component up to 120 Hz; null when there is none with a contrast above zero. */
export function visibleFlicker(components: readonly Component[]): VisibleFlicker | null {
  let jnd = 0
  let atHz = 0
  let uRelative = 0
  for (const { frequencyHz, relative, u } of components) {
    if (frequencyHz <= 0 || frequencyHz > VISIBLE_LIMIT_HZ) continue
    const visibility = temporalSensitivity(frequencyHz) * relative
    if (visibility > jnd) {
      jnd = visibility
      atHz = frequencyHz
      uRelative = u / relative
    }
  }
  if (jnd === 0) return null
  return { jnd, atHz, uRelative, dbAmplitude: 20 * Math.log10(jnd), dbHalf: 10 * Math.log10(jnd / 2) }
}

export interface TableFlicker {
  /** 20·log₁₀ of weight × amplitude ÷ mean, largest over f ≤ 120 Hz. */
  readonly dbAmplitude: number
  /** 10·log₁₀ of the power ratio (weight·|K|)²/K₀² = dbAmplitude − 6.02. */
  readonly dbPower: number
  readonly atHz: number
  /** Relative standard uncertainty of the amplitude there. */
  readonly uRelative: number
}

/** Flicker by the weight table; null when no component up to 120 Hz has a contrast above zero. */
export function tableFlicker(components: readonly Component[]): TableFlicker | null {
  let best: TableFlicker | null = null
  for (const { frequencyHz, relative, u } of components) {
    if (frequencyHz <= 0 || frequencyHz > VISIBLE_LIMIT_HZ || relative <= 0) continue
    const dbAmplitude = tableWeightDb(frequencyHz) + 20 * Math.log10(relative)
    if (best === null || dbAmplitude > best.dbAmplitude)
      best = { dbAmplitude, dbPower: dbAmplitude - 20 * Math.log10(2), atHz: frequencyHz, uRelative: u / relative }
  }
  return best
}

export interface ModulationRegion {
  readonly source: string
  /** Percent modulation below which the source speaks of low risk, at this frequency; null = it states no limit. */
  readonly lowRiskPct: number | null
  /** Percent modulation below which it speaks of no observable effect; null = it states no limit. */
  readonly noEffectPct: number | null
  readonly region: 'under both lines' | 'between the lines' | 'over both lines' | 'no limit stated'
  readonly note: string
}

const REGION_NOTE =
  'Public statements of these lines contradict one another, and the standard itself was not at hand: context, not a ' +
  'safety verdict.'

/** Low-risk line of IEEE 1789-2015, percent modulation: 0.025 f below 90 Hz, 0.08 f up to 1250 Hz, none above (from memory). */
export function lowRiskModulation(frequencyHz: number): number | null {
  if (frequencyHz < 90) return 0.025 * frequencyHz
  return frequencyHz <= 1250 ? 0.08 * frequencyHz : null
}

/** No-observable-effect line of IEEE 1789-2015: 0.01 f below 90 Hz, 0.0333 f up to 3000 Hz, none above (from memory). */
export function noEffectModulation(frequencyHz: number): number | null {
  if (frequencyHz < 90) return 0.01 * frequencyHz
  return frequencyHz <= 3000 ? 0.0333 * frequencyHz : null
}

/** Where a modulation lies against the two lines of IEEE 1789-2015. */
export function modulationRegion(frequencyHz: number, percentFlicker: number): ModulationRegion {
  const lowRiskPct = lowRiskModulation(frequencyHz)
  const noEffectPct = noEffectModulation(frequencyHz)
  const underLow = lowRiskPct === null || percentFlicker <= lowRiskPct
  const underNone = noEffectPct === null || percentFlicker <= noEffectPct
  const region =
    lowRiskPct === null && noEffectPct === null
      ? 'no limit stated'
      : underNone
        ? 'under both lines'
        : underLow
          ? 'between the lines'
          : 'over both lines'
  return { source: 'IEEE 1789-2015 (lines as publicly quoted)', lowRiskPct, noEffectPct, region, note: REGION_NOTE }
}
