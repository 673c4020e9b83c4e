/** What a spreadsheet takes for a formula by its first character, full-width forms included. */
const FORMULA = /^[=+\-@\t\r＝＋－＠]/

/** Texts come from people and files; an apostrophe in front makes a spreadsheet show them instead of running them. */
export const harmlessCell = <C>(cell: C): C | string =>
  typeof cell === 'string' && FORMULA.test(cell) ? `'${cell}` : cell
