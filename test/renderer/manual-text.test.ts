import { readdirSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { blocksOf, type Block } from '../../src-renderer/app/manual-text.tsx'

test('a page is split into headings, paragraphs, lists, tables and code', () => {
  const page = [
    '# Title',
    '',
    'One line',
    'and the next.',
    '- a',
    '- b',
    '',
    '1. first',
    '| key | meaning |',
    '|---|---|',
    '| `x` | ∫\\|error\\| dt |',
    '```sh',
    '# no heading',
    '```',
    'After.',
  ].join('\n')
  expect(blocksOf(page)).toEqual([
    { kind: 'heading', level: 1, text: 'Title' },
    { kind: 'paragraph', text: 'One line and the next.' },
    { kind: 'list', ordered: false, items: ['a', 'b'] },
    { kind: 'list', ordered: true, items: ['first'] },
    { kind: 'table', head: ['key', 'meaning'], rows: [['`x`', '∫|error| dt']] },
    { kind: 'code', text: '# no heading' },
    { kind: 'paragraph', text: 'After.' },
  ] satisfies Block[])
})

const PAGES = new URL('../../assets/manual/', import.meta.url)

test.each(readdirSync(PAGES))('%s: tables have as many cells as titles, and lists and rows differ', (name) => {
  const blocks = blocksOf(readFileSync(new URL(name, PAGES), 'utf8'))
  expect(blocks[0]?.kind).toBe('heading')
  for (const block of blocks) {
    if (block.kind === 'table') {
      expect(new Set(block.rows.map(([first]) => first)).size).toBe(block.rows.length)
      for (const row of block.rows) expect(row).toHaveLength(block.head.length)
    }
    if (block.kind === 'list') expect(new Set(block.items).size).toBe(block.items.length)
  }
})
