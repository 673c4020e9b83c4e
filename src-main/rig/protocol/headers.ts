/**
 * The headers an instrument says it has (SYSTem:HELP:HEADers?): a definite block, one header a line, optionally with
 * `/qonly/` (query only) or `/nquery/` (no query). Nodes are written in mixed case (`SENSe`: short form SENS, long form
 * SENSE), with optional ones in brackets.
 */
interface Node {
  readonly short: string
  readonly long: string
  readonly optional: boolean
}

/**
 * A line longer than this is no header and is left out: with mnemonics of at most 12 characters (IEEE 488.2 7.6.1.4.1)
 * that is room for some fifteen nodes, and SCPI-1999 has none with more than seven.
 */
const LONGEST_HEADER = 200

/** Text of the block to headers, in the instrument's own spelling with `?` for query-only ones; blanks left out. */
export function parseHeaderList(text: string): string[] {
  return text
    .split(/\r?\n/)
    .map((line) => line.trim())
    .filter((line) => line !== '')
    .map((line) => {
      const [header = ''] = line.split(/[\s/]/, 1)
      return /\/qonly\//i.test(line) && !header.endsWith('?') ? `${header}?` : header
    })
    .filter((header) => header !== '' && header !== '?' && header.length <= LONGEST_HEADER)
}

/**
 * Whether a list names a header, e.g. `[SENSe:]VOLTage[:DC]:RANGe[:UPPer]` or `FETCh?`. Short and long forms, optional
 * nodes on either side and numeric suffixes match. A set header satisfies a query too: instruments often list one line
 * for both.
 */
export function hasHeader(list: readonly string[], wanted: string): boolean {
  const query = wanted.endsWith('?')
  const nodes = nodesOf(wanted)
  return entriesOf(list).some((entry) => (query || !entry.query) && matches(entry.nodes, nodes))
}

interface Entry {
  readonly query: boolean
  readonly nodes: readonly Node[]
}

/** A list is asked for many headers and read once. */
const read = new WeakMap<readonly string[], readonly Entry[]>()

function entriesOf(list: readonly string[]): readonly Entry[] {
  const known = read.get(list)
  if (known !== undefined) return known
  const entries = list.map((entry) => ({ query: entry.endsWith('?'), nodes: nodesOf(entry) }))
  read.set(list, entries)
  return entries
}

function nodesOf(header: string): Node[] {
  const plain = header.replace(/\?$/, '').replace(/<n>|#$/g, '')
  const nodes: Node[] = []
  let depth = 0
  for (const part of plain.split(/([[\]:])/)) {
    if (part === '[') depth += 1
    else if (part === ']') depth -= 1
    else if (part !== '' && part !== ':') {
      const name = part.replace(/\d+$/, '')
      nodes.push({
        short: /[a-z]/.test(name) ? name.replace(/[a-z]+/g, '') : name,
        long: name.toUpperCase(),
        optional: depth > 0,
      })
    }
  }
  return nodes
}

/**
 * One walk along the listed nodes that remembers which wanted ones can have been met: time n × m, however many are
 * optional. Bit j of the memory says that the first j wanted nodes can have been met; a wanted header has at most 30.
 */
function matches(listed: readonly Node[], wanted: readonly Node[]): boolean {
  const optional = bits(wanted, (node) => node.optional)
  let met = passOptional(1, optional, wanted.length)
  for (const node of listed) {
    const same = bits(wanted, (other) => isSame(node, other))
    met = passOptional((node.optional ? met : 0) | ((met & same) << 1), optional, wanted.length)
    if (met === 0) return false
  }
  return (met & (1 << wanted.length)) !== 0
}

function bits(nodes: readonly Node[], holds: (node: Node) => boolean): number {
  let set = 0
  for (let j = 0; j < nodes.length; j++) if (holds(nodes[j] as Node)) set |= 1 << j
  return set
}

/** Wherever an optional wanted node is next, the one after it may be too. */
function passOptional(met: number, optional: number, length: number): number {
  let passed = met
  for (let j = 0; j < length; j++) if ((passed & optional & (1 << j)) !== 0) passed |= 1 << (j + 1)
  return passed
}

/** A name in capitals only may be a short or a long form; with both forms known on both sides the long ones decide. */
function isSame(a: Node, b: Node): boolean {
  if (a.long === b.long) return true
  return (a.short === a.long && a.short === b.short) || (b.short === b.long && b.short === a.short)
}
