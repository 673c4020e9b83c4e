import type { ErrorCode } from '#shared/domain/errors.ts'

/** What the command line answers the shell with; the same for every command. */
export const EXIT = {
  done: 0,
  incomplete: 1,
  usage: 2,
  rig: 3,
  archive: 4,
  input: 5,
  absent: 6,
  fault: 7,
  paused: 8,
} as const

export type ExitCode = (typeof EXIT)[keyof typeof EXIT]

export const EXIT_CODES: readonly (readonly [ExitCode, string])[] = [
  [EXIT.done, 'done, nothing missing'],
  [
    EXIT.incomplete,
    'done, but something is missing: captures given up, sweeps skipped, files left out, nothing measurable in the file',
  ],
  [EXIT.usage, 'wrong option, argument or plan'],
  [EXIT.rig, 'rig or stimulus: absent, lost, unsuitable, too slow'],
  [EXIT.archive, 'archive: locked, damaged, read-only, written by a newer version, disk full'],
  [EXIT.input, 'input file cannot be read'],
  [EXIT.absent, 'the campaign, sweep, capture or recipe is not there, or not in a state for this'],
  [EXIT.fault, 'fault of the program: a worker died, a time limit, an internal error'],
  [EXIT.paused, 'paused or cancelled before the end; can be resumed'],
]

export const EXIT_HELP = `
Exit codes:
${EXIT_CODES.map(([code, meaning]) => `  ${code}  ${meaning}`).join('\n')}`

const BY_ERROR: Readonly<Record<ErrorCode, ExitCode>> = {
  'invalid-input': EXIT.usage,
  'not-found': EXIT.absent,
  conflict: EXIT.absent,
  'rig-absent': EXIT.rig,
  'rig-busy': EXIT.rig,
  'rig-permission': EXIT.rig,
  'rig-not-scpi': EXIT.rig,
  'rig-unsuitable': EXIT.rig,
  'rig-lost': EXIT.rig,
  'rig-protocol': EXIT.rig,
  'rig-timeout': EXIT.rig,
  'link-too-slow': EXIT.rig,
  'stimulus-absent': EXIT.rig,
  'stimulus-mismatch': EXIT.rig,
  'archive-newer': EXIT.archive,
  'archive-damaged': EXIT.archive,
  'archive-locked': EXIT.archive,
  'archive-read-only': EXIT.archive,
  'archive-disk-full': EXIT.archive,
  'import-unreadable': EXIT.input,
  'worker-died': EXIT.fault,
  cancelled: EXIT.paused,
  timeout: EXIT.fault,
  internal: EXIT.fault,
}

export const exitCodeOf = (code: ErrorCode): ExitCode => BY_ERROR[code]
