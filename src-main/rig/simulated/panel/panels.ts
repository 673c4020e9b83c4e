/**
 * The three invented panels. All numbers are chosen, none is measured from a product.
 *
 * Luminance is relative to white: L(code) = black + (1 − black)·(code ÷ 255)^gamma.
 *
 * A cell answers a change of drive with two cascaded first-order lags (molecules, then the electric cell around
 * them), both constant until the drive changes again. The main one is
 *
 *   τ(from, to) = τ_rise|fall · (1 + dark·d(from)·d(to)) · (1 + small·(1 − |to − from| ÷ 255))
 *
 * with d(c) = (1 − c ÷ 255)²: rises and falls differ, steps between dark levels are slow, and small steps are slower
 * than large ones. The second lag is `lagRatio`·τ and rounds the onset.
 */
import type { PanelId, SimSetting } from '#shared/domain/rig.ts'

export interface Panel {
  readonly id: PanelId
  readonly gamma: number
  /** Luminance of code 0 relative to white. */
  readonly black: number
  /** Main time constants of a full-size step between bright levels, s. */
  readonly riseS: number
  readonly fallS: number
  /** How much slower steps between dark levels are, as a factor on top of 1. */
  readonly darkRise: number
  readonly darkFall: number
  readonly small: number
  readonly lagRatio: number
  /** Per overdrive setting: the frame period the drive was tuned for, s, and the most it adds, in parts of the step. */
  readonly overdrive: Readonly<Record<Exclude<SimSetting, 'Off'>, { readonly tunedS: number; readonly limit: number }>>
}

export const PANELS: Readonly<Record<PanelId, Panel>> = {
  swift: {
    id: 'swift',
    gamma: 2.2,
    black: 1 / 950,
    riseS: 0.0019,
    fallS: 0.0013,
    darkRise: 0.6,
    darkFall: 0.3,
    small: 0.5,
    lagRatio: 0.22,
    overdrive: {
      Gentle: { tunedS: 0.0075, limit: 0.12 },
      Strong: { tunedS: 0.0042, limit: 0.5 },
      Extreme: { tunedS: 0.0016, limit: 1.6 },
    },
  },
  plain: {
    id: 'plain',
    gamma: 2.2,
    black: 1 / 1100,
    riseS: 0.0042,
    fallS: 0.003,
    darkRise: 0.9,
    darkFall: 0.4,
    small: 0.6,
    lagRatio: 0.25,
    overdrive: {
      Gentle: { tunedS: 0.016, limit: 0.12 },
      Strong: { tunedS: 0.0085, limit: 0.5 },
      Extreme: { tunedS: 0.0035, limit: 1.6 },
    },
  },
  dusk: {
    id: 'dusk',
    gamma: 2.2,
    black: 1 / 3000,
    riseS: 0.0034,
    fallS: 0.0038,
    darkRise: 5,
    darkFall: 1.2,
    small: 0.5,
    lagRatio: 0.2,
    overdrive: {
      Gentle: { tunedS: 0.016, limit: 0.12 },
      Strong: { tunedS: 0.009, limit: 0.5 },
      Extreme: { tunedS: 0.0035, limit: 1.6 },
    },
  },
}

/** Relative luminance of a settled code; codes may be fractional. */
export function luminanceOf(panel: Panel, code: number): number {
  return panel.black + (1 - panel.black) * Math.pow(Math.max(0, code) / 255, panel.gamma)
}

/** Inverse of `luminanceOf`; luminances under black answer 0, those above white go on past 255. */
export function codeOf(panel: Panel, luminance: number): number {
  return 255 * Math.pow(Math.max(0, (luminance - panel.black) / (1 - panel.black)), 1 / panel.gamma)
}

/** Main time constant of a step between two (fractional) codes, s. */
export function timeConstantOf(panel: Panel, from: number, to: number): number {
  const rising = to >= from
  const darkness = darknessOf(from) * darknessOf(to)
  const size = Math.min(1, Math.abs(to - from) / 255)
  return (
    (rising ? panel.riseS : panel.fallS) *
    (1 + (rising ? panel.darkRise : panel.darkFall) * darkness) *
    (1 + panel.small * (1 - size))
  )
}

function darknessOf(code: number): number {
  const share = 1 - Math.min(1, Math.max(0, code / 255))
  return share * share
}

/**
 * The code the panel is driven with during the first frame after a change: the factory table of a setting, computed
 * so that a first-order cell would arrive after `tunedS`, then limited, rounded and cut to 0–255. It does not know
 * the refresh rate, which is why a longer frame overshoots.
 */
export function boostedCode(panel: Panel, setting: SimSetting, from: number, to: number): number {
  if (setting === 'Off' || from === to) return to
  const { tunedS, limit } = panel.overdrive[setting]
  const lag = timeConstantOf(panel, from, to) * (1 + panel.lagRatio)
  const share = Math.min(limit, 1 / Math.expm1(tunedS / lag))
  const start = luminanceOf(panel, from)
  const target = luminanceOf(panel, to)
  return Math.min(255, Math.max(0, Math.round(codeOf(panel, target + share * (target - start)))))
}
