/** What a salvage brought, for programs and people. */
import { plural } from '#shared/domain/quantity-text.ts'
export interface CopiedRows {
  readonly campaigns: number
  readonly sweeps: number
  readonly captures: number
  /** Captures that were there but whose record or samples could not be read unharmed, ascending. */
  readonly lostCaptures: readonly number[]
  readonly results: number
  readonly reviews: number
  readonly notes: number
}

export interface SalvageReport extends CopiedRows {
  /** Where the damaged file is now. */
  readonly asidePath: string
}

/** Counts in the words a person reads. */
export function describeSalvage(report: SalvageReport): string {
  const { captures, lostCaptures: lost, asidePath } = report
  const shown = lost.slice(0, 20).join(', ') + (lost.length > 20 ? ` and ${lost.length - 20} more` : '')
  const others = (['campaigns', 'sweeps', 'results', 'reviews', 'notes'] as const)
    .map((name) => `${report[name]} ${report[name] === 1 ? name.slice(0, -1) : name}`)
    .join(', ')
  return [
    `${plural(captures, 'capture was', 'captures were')} copied from the damaged archive into a new one, with ${others}.`,
    lost.length === 0
      ? 'No capture is known to be lost.'
      : `Lost ${lost.length === 1 ? 'is capture' : `are ${lost.length} captures:`} ${shown}.`,
    ...(report.results < captures ? ['Captures without a result can be analysed again.'] : []),
    `The damaged file is kept as ${asidePath}.`,
  ].join(' ')
}
