/** Words of the screens for the closed sets of the domain. */
import type { SweepState, Verdict } from '#shared/domain/capture.ts'
import type { FlagId } from '#shared/domain/result.ts'
import type { Backlight, PanelId, RigStatus } from '#shared/domain/rig.ts'
import type { ReviewDecision } from '#shared/domain/views.ts'

export const FLAG_WORDS: Readonly<Record<FlagId, string>> = {
  clipped: 'Clipped',
  'small-step': 'Step too small',
  'plateau-drift': 'Plateau drifts',
  'plateau-not-reached': 'Plateau not reached',
  'several-crossings': 'Several 50 % crossings',
  'under-resolved': 'Too few samples',
  'detector-limited': 'Limited by the detector',
  'ladder-disagrees': 'Disagrees with the ladder',
  'edge-out-of-frame': 'Step outside its frame',
  'differs-from-repeats': 'Differs from its repeats',
  'ripple-differs': 'Ripple differs',
  hum: 'Mains hum',
  'edge-of-record': 'Excursion at the record’s edge',
  'missing-samples': 'Missing samples',
  'wrong-direction': 'Wrong direction',
  'ringing-filter': 'Filter may ring',
  'conditioning-bias': 'Biased by conditioning',
  'double-step': 'Double step',
  saturation: 'Detector saturates',
  'left-in-trace': 'Ripple or drift remains',
}

export const VERDICT_WORDS: Readonly<Record<Verdict, string>> = {
  good: 'good',
  'dropped-frame': 'dropped frame',
  gapped: 'samples missing',
  'no-edge': 'no edge found',
}

export const REVIEW_WORDS: Readonly<Record<ReviewDecision, string>> = {
  keep: 'kept',
  exclude: 'excluded',
  retake: 'to be retaken',
  override: 'marks moved by hand',
}

export const SWEEP_STATE_WORDS: Readonly<Record<SweepState, string>> = {
  ready: 'ready',
  ladder: 'measuring the ladder',
  running: 'running',
  paused: 'paused',
  finished: 'finished',
  stopped: 'stopped',
  failed: 'failed',
}

export const RIG_STATUS_WORDS: Readonly<Record<RigStatus, string>> = {
  absent: 'No rig',
  connecting: 'Connecting',
  ready: 'Ready',
  recording: 'Recording',
  lost: 'Lost',
}

export const PANEL_WORDS: Readonly<Record<PanelId, string>> = {
  swift: 'Swift',
  dusk: 'Dusk',
  plain: 'Plain',
}

export const BACKLIGHT_WORDS: Readonly<Record<Backlight, string>> = {
  steady: 'Steady',
  pwm: 'Pulse-width modulated',
  strobe: 'Strobed once a frame',
}

/** States in which a sweep uses the rig. */
export function isActive(state: SweepState): boolean {
  return state === 'running' || state === 'ladder'
}

/** States from which a sweep can be started or gone on with. */
export function canStart(state: SweepState): boolean {
  return state === 'ready' || state === 'paused' || state === 'stopped' || state === 'failed'
}
