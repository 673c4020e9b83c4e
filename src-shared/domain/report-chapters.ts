/** Chapters a report can have, in order; the answer is always there. */
export const REPORT_CHAPTERS = [
  'overview',
  'findings',
  'matrices',
  'traces',
  'edges',
  'record',
  'method',
  'budget',
  'cautions',
  'provenance',
] as const
export type ReportChapter = (typeof REPORT_CHAPTERS)[number]

export const CHAPTER_WORDS: Readonly<Record<ReportChapter, string>> = {
  overview: 'Overview',
  findings: 'Findings',
  matrices: 'Transition durations',
  traces: 'Slowest transitions',
  edges: 'Moving edge, computed',
  record: 'Latency, light, colour, power',
  method: 'Method and limits',
  budget: 'Uncertainty budget',
  cautions: 'Cautions',
  provenance: 'Provenance',
}
