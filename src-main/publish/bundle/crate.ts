import type { BundleSubject } from '#shared/domain/bundle.ts'

export const METADATA = 'ro-crate-metadata.json'

/** What the metadata tell of the whole. */
export type CrateSubject = Omit<BundleSubject, 'publishedAt' | 'license'>

const LICENSE = 'https://creativecommons.org/licenses/by/4.0/'

export interface CrateFile {
  /** Relative path with forward slashes. */
  readonly path: string
  readonly name: string
  readonly encodingFormat: string
  readonly bytes: number
  readonly sha256: string
}

/**
 * Metadata of a bundle after RO-Crate 1.1 (w3id.org/ro/crate/1.1). `sha256` is not in its context and is added to it.
 */
export function crateMetadata(subject: CrateSubject, files: readonly CrateFile[]): string {
  const { display, campaign, invented, version, recipeHash, sweeps } = subject
  const id = (value: string) => ({ '@id': value })
  const rigs = [...new Set(sweeps.map(({ rigIdentity }) => rigIdentity))]
  const last =
    sweeps
      .map(({ createdAt }) => createdAt)
      .sort()
      .at(-1) ?? ''
  const data = files.filter(({ path }) => path.startsWith('data/'))
  const graph = [
    {
      '@id': METADATA,
      '@type': 'CreativeWork',
      conformsTo: id('https://w3id.org/ro/crate/1.1'),
      about: id('./'),
    },
    {
      '@id': './',
      '@type': 'Dataset',
      name: display,
      description: `${invented ? 'Invented display, simulated rig. ' : ''}Response of a display: raw traces, results and findings of the campaign “${campaign}” under recipe ${recipeHash}.`,
      // Day of the last sweep, never the clock, so that a bundle can be made again byte for byte.
      datePublished: last,
      license: id(LICENSE),
      hasPart: files.map(({ path }) => id(encodeURI(path))),
      mentions: [id('#capture'), id('#analysis')],
    },
    ...files.map(({ path, name, encodingFormat, bytes, sha256 }) => ({
      '@id': encodeURI(path),
      '@type': 'File',
      name,
      encodingFormat,
      contentSize: String(bytes),
      sha256,
    })),
    {
      '@id': '#capture',
      '@type': 'CreateAction',
      name: 'Capture',
      endTime: last,
      instrument: rigs.map((_, i) => id(`#rig-${i + 1}`)),
      object: id('#display'),
      result: id('data/traces.parquet'),
    },
    {
      '@id': '#analysis',
      '@type': 'CreateAction',
      name: 'Analysis',
      instrument: id('#slewlight'),
      object: [id('recipe.json'), id('data/traces.parquet')],
      result: data.filter(({ path }) => path !== 'data/traces.parquet').map(({ path }) => id(path)),
    },
    ...rigs.map((identity, i) => ({ '@id': `#rig-${i + 1}`, '@type': 'IndividualProduct', name: identity })),
    { '@id': '#display', '@type': 'IndividualProduct', name: display },
    { '@id': '#slewlight', '@type': 'SoftwareApplication', name: 'Slewlight', version },
    { '@id': LICENSE, '@type': 'CreativeWork', name: 'CC BY 4.0' },
  ]
  const context = ['https://w3id.org/ro/crate/1.1/context', { sha256: 'http://schema.org/sha256' }]
  return `${JSON.stringify({ '@context': context, '@graph': graph }, null, 2)}\n`
}
