/** A bundle beside the standards it follows and the programs that read it. */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { DuckDBInstance } from '@duckdb/node-api'
import { Ajv2020 } from 'ajv/dist/2020.js'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { z } from 'zod'
import { filesBelow } from '#main/publish/bundle/manifest.ts'
import { writeBundle } from '#main/publish/bundle/write.ts'
import { RESULT_COLUMNS } from '#main/publish/bundle/tables.ts'
import { inventedCaptures, inventedEvidence, streamed, SUBJECT } from './invented.ts'
import jsonld from 'jsonld'
import { RO_CRATE_TERMS } from './ro-crate-terms.ts'

const home = mkdtempSync(join(tmpdir(), 'slewlight-standards-'))
const bundle = join(home, 'bundles/panel-a')
const read = (path: string): string => readFileSync(join(bundle, path), 'utf8')

beforeAll(async () => {
  const captures = inventedCaptures()
  await writeBundle(bundle, SUBJECT, streamed(captures), await inventedEvidence(captures))
})
afterAll(() => rmSync(home, { recursive: true, force: true }))

const idSchema = z.looseObject({ '@id': z.string() })
const crateSchema = z.strictObject({
  '@context': z.tuple([z.literal('https://w3id.org/ro/crate/1.1/context'), z.record(z.string(), z.string())]),
  '@graph': z.array(z.looseObject({ '@id': z.string(), '@type': z.string() })),
})

const BASE = 'https://example.org/bundle/'
const contextSchema = z.looseObject({ '@context': z.record(z.string(), z.string()) })

describe('the metadata', () => {
  const crate = () => crateSchema.parse(JSON.parse(read('ro-crate-metadata.json')))

  it('uses no type and no property that its context does not define', () => {
    const { '@context': context, '@graph': graph } = crate()
    const known = new Set([...Object.keys(RO_CRATE_TERMS), ...Object.keys(context[1])])
    const used = new Set(
      graph.flatMap(({ '@id': _id, '@type': type, ...properties }) => [type, ...Object.keys(properties)]),
    )
    expect([...used].filter((term) => !known.has(term))).toEqual([])
    // The list of terms can fail the test: it holds nothing that is not used.
    expect([...known].filter((term) => !used.has(term))).toEqual([])
  })

  it('is expanded by a JSON-LD processor under the whole context without losing a word', async () => {
    // The whole context to be had here is that of RO-Crate 1.2; of what a bundle uses it says the same as 1.1.
    const whole = contextSchema.parse(
      JSON.parse(readFileSync(new URL('../reference/ro-crate-1.2-context.json', import.meta.url), 'utf8')),
    )
    expect(Object.keys(whole['@context']).length).toBeGreaterThan(2800)
    for (const [term, iri] of Object.entries(RO_CRATE_TERMS)) expect(whole['@context'][term], term).toBe(iri)
    const asked: string[] = []
    const expand = (document: jsonld.JsonLdDocument) =>
      jsonld.expand(document, {
        // Whatever the context does not know is an error, where JSON-LD drops it otherwise.
        safe: true,
        base: BASE,
        documentLoader: async (url: string) => {
          asked.push(url)
          return { documentUrl: url, document: whole }
        },
      } as jsonld.Options.Expand)
    const written = JSON.parse(read('ro-crate-metadata.json')) as { '@context': object; '@graph': object[] }
    const expanded = await expand(written as jsonld.JsonLdDocument)
    expect(asked).toEqual(['https://w3id.org/ro/crate/1.1/context'])
    expect(expanded).toHaveLength(written['@graph'].length)
    const root = expanded.find((entity) => entity['@id'] === BASE)
    expect(root).toMatchObject({ '@type': ['http://schema.org/Dataset'] })
    expect(root?.['http://schema.org/hasPart']).toHaveLength((await filesBelow(bundle)).length - 2)
    const unknown = { ...written, '@graph': [...written['@graph'], { '@id': '#x', '@type': 'Dataset', colour: 'red' }] }
    await expect(expand(unknown as jsonld.JsonLdDocument)).rejects.toThrow()
  })

  it('refers to nothing that is not there', () => {
    const { '@graph': graph } = crate()
    const ids = graph.map((entity) => entity['@id'])
    expect(new Set(ids).size).toBe(ids.length)
    const references = graph.flatMap((entity) =>
      Object.values(entity)
        .flat()
        .flatMap((value) => {
          const reference = idSchema.safeParse(value)
          return reference.success ? [reference.data['@id']] : []
        }),
    )
    const outside = references.filter((id) => !ids.includes(id))
    expect(outside).toEqual(['https://w3id.org/ro/crate/1.1'])
  })

  it('has what RO-Crate 1.1 asks of the descriptor, the root and every file', () => {
    const { '@graph': graph } = crate()
    const at = (id: string) => graph.find((entity) => entity['@id'] === id)
    expect(at('ro-crate-metadata.json')).toMatchObject({ '@type': 'CreativeWork', about: { '@id': './' } })
    const root = z
      .looseObject({
        '@type': z.literal('Dataset'),
        name: z.string().min(1),
        description: z.string().min(1),
        datePublished: z.iso.datetime(),
        license: idSchema,
        hasPart: z.array(idSchema),
      })
      .parse(at('./'))
    const files = graph.filter((entity) => entity['@type'] === 'File').map((entity) => entity['@id'])
    expect(root.hasPart.map((part) => part['@id']).sort()).toEqual(files.sort())
    for (const id of files)
      expect(at(id)?.['contentSize']).toBe(String(readFileSync(join(bundle, decodeURI(id))).length))
  })
})

it('the findings are valid under the JSON Schema that lies beside them', () => {
  const validate = new Ajv2020({ strict: true, allowUnionTypes: true, allErrors: true }).compile(
    z.record(z.string(), z.unknown()).parse(JSON.parse(read('data/findings.schema.json'))),
  )
  const findings = z.looseObject({ points: z.array(z.looseObject({})) }).parse(JSON.parse(read('data/findings.json')))
  expect(validate(findings), JSON.stringify(validate.errors)).toBe(true)
  expect(validate({ ...findings, points: [{ ...findings.points[0], verdict: 'good' }] })).toBe(false)
  expect(validate({ ...findings, more: 1 })).toBe(false)
})

const TYPES: Readonly<Record<string, string>> = { INT32: 'INTEGER', DOUBLE: 'DOUBLE', BOOLEAN: 'BOOLEAN' }

describe('DuckDB', () => {
  const rows = async (sql: string) => {
    const db = await (await DuckDBInstance.create(':memory:')).connect()
    return (await db.runAndReadAll(sql)).getRowObjectsJson()
  }

  it('reads every column of the results alike from Parquet and from CSV', async () => {
    const types = RESULT_COLUMNS.map(({ name, type }) => `'${name}': '${TYPES[type ?? ''] ?? 'VARCHAR'}'`).join(', ')
    // A CSV has no text that is empty yet there.
    const columns = RESULT_COLUMNS.map(({ name, type }) => (type === 'BYTE_ARRAY' ? `coalesce(${name}, '')` : name))
    const parquet = `'${join(bundle, 'data/results.parquet')}'`
    const csv = `read_csv('${join(bundle, 'data/results.csv')}', types = {${types}})`
    for (const [a, b] of [
      [parquet, csv],
      [csv, parquet],
    ]) {
      const [left] = await rows(
        `select count(*) n from (select ${columns.join()} from ${a} except select ${columns.join()} from ${b})`,
      )
      expect(Number(left?.['n'])).toBe(0)
    }
  })

  it('answers the query of the manual over a folder of bundles', async () => {
    const manual = readFileSync(new URL('../../assets/manual/files.md', import.meta.url), 'utf8')
    const [, sql = ''] = /```sql\n([^`]+)```/.exec(manual) ?? []
    expect(sql).toContain("read_parquet('bundles/*/data/results.parquet'")
    const [first, ...others] = await rows(sql.replace("'bundles/*", `'${home}/bundles/*`))
    expect(others).toEqual([])
    expect(first).toMatchObject({ bundle: 'panel-a', n: String(inventedCaptures().length) })
  })
})
