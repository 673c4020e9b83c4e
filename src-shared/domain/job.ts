/** Long pieces of work: what is seen of each while it runs. */
export type JobKind = 'reanalyse' | 'import' | 'export' | 'demo' | 'latency' | 'guided'
export type JobState = 'running' | 'finished' | 'cancelled' | 'failed'

export interface JobProgress {
  readonly id: string
  readonly kind: JobKind
  readonly label: string
  readonly done: number
  /** 0 while it is not known. */
  readonly total: number
  readonly state: JobState
  /** What is to be said about finished or failed work; empty when all went well. */
  readonly problem: string
  /** Time left at the rate so far, s; null while that is not known. */
  readonly leftS: number | null
  /** What a person has to do before it goes on, as a sentence; empty while it works by itself. */
  readonly asks: string
}
