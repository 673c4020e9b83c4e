/** Numbers of tables, read strictly: nothing is taken for one that another program might read otherwise. */
import { AppError } from '#shared/domain/errors.ts'
import type { CgatsValue } from './cgats.ts'

/** Strict: `114,05` is no number, and neither is 0x10. */
export const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/

export function numberIn(cell: CgatsValue, column: string, row: number): number {
  if (typeof cell === 'number') return cell
  const text = cell.replace('\u2212', '-')
  if (NUMBER.test(text) && Number.isFinite(Number(text))) return Number(text)
  throw new AppError(
    'import-unreadable',
    `${column} in row ${row} is “${cell.slice(0, 40)}”, which is no number.`,
    remedyFor(text),
  )
}

function remedyFor(text: string): string {
  if (/\d,\d/.test(text)) return 'Write numbers with a point, not a comma.'
  return /^[+-]?[\d.]+\s*[^\d\s.+-]/.test(text)
    ? 'Write the number alone, without its unit or marks.'
    : 'Leave out rows without a value.'
}
