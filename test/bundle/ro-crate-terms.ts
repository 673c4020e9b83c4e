/**
 * The types and properties a bundle's metadata use, with what the JSON-LD context of RO-Crate 1.1
 * (w3id.org/ro/crate/1.1/context, version 1.1.3) makes of each; the rest of its 2,600 terms is left out. The whole
 * context of version 1.2 lies in test/reference/ro-crate-1.2-context.json, as it stands in the npm package ro-crate 3.7.2
 * and under the licence it states itself (CC0 1.0); it defines these terms alike, which is tested.
 */
export const RO_CRATE_TERMS: Readonly<Record<string, string>> = {
  CreateAction: 'http://schema.org/CreateAction',
  CreativeWork: 'http://schema.org/CreativeWork',
  Dataset: 'http://schema.org/Dataset',
  File: 'http://schema.org/MediaObject',
  IndividualProduct: 'http://schema.org/IndividualProduct',
  SoftwareApplication: 'http://schema.org/SoftwareApplication',
  about: 'http://schema.org/about',
  conformsTo: 'http://purl.org/dc/terms/conformsTo',
  contentSize: 'http://schema.org/contentSize',
  datePublished: 'http://schema.org/datePublished',
  description: 'http://schema.org/description',
  encodingFormat: 'http://schema.org/encodingFormat',
  endTime: 'http://schema.org/endTime',
  hasPart: 'http://schema.org/hasPart',
  instrument: 'http://schema.org/instrument',
  license: 'http://schema.org/license',
  mentions: 'http://schema.org/mentions',
  name: 'http://schema.org/name',
  object: 'http://schema.org/object',
  result: 'http://schema.org/result',
  version: 'http://schema.org/version',
}
