/** What the desk shows, as an address: `#/traces/<capture>?sweep=3&flag=hum&sort=flags&order=down`. */
import { z } from 'zod'
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import { FLAG_IDS, type FlagId } from '#shared/domain/result.ts'
import { measureIdSchema, type CaptureFilter } from '#shared/domain/views.ts'

export type SortBy = CaptureFilter['sort']['by']
type ReviewFilter = NonNullable<CaptureFilter['review']>
type VerdictFilter = NonNullable<CaptureFilter['verdict']>

/** Filters and order of the list; null asks nothing. */
export interface DeskFilter {
  readonly campaignId: number | null
  readonly sweepId: number | null
  readonly from: number | null
  readonly to: number | null
  readonly flag: FlagId | null
  readonly review: ReviewFilter | null
  readonly verdict: VerdictFilter | null
  readonly doubtful: boolean
  readonly noted: boolean
  readonly sort: SortBy
  readonly descending: boolean
}

export interface DeskAddress {
  readonly captureId: number | null
  readonly filter: DeskFilter
}

export const EVERYTHING: DeskFilter = {
  campaignId: null,
  sweepId: null,
  from: null,
  to: null,
  flag: null,
  review: null,
  verdict: null,
  doubtful: false,
  noted: false,
  sort: 'id',
  descending: false,
}

const idSchema = z.coerce.number().int().min(1)
const levelSchema = z.coerce.number().int().min(0).max(255)
const parameterSchema = z.object({
  campaign: idSchema.nullable().catch(null),
  sweep: idSchema.nullable().catch(null),
  from: levelSchema.nullable().catch(null),
  to: levelSchema.nullable().catch(null),
  flag: z.enum(FLAG_IDS).nullable().catch(null),
  review: z.enum(['none', 'keep', 'exclude', 'retake', 'override']).nullable().catch(null),
  verdict: z.enum(['good', 'dropped-frame', 'gapped', 'no-edge']).nullable().catch(null),
  doubtful: z.literal('yes').nullable().catch(null),
  noted: z.literal('yes').nullable().catch(null),
  sort: z.union([z.literal('id'), z.literal('flags'), measureIdSchema]).catch('id'),
  order: z.literal('down').nullable().catch(null),
})

/** Reads the parts of a route; anything it does not know is left out. */
export function readAddress(rest: string, parameters: URLSearchParams): DeskAddress {
  const given = parameterSchema.parse(
    Object.fromEntries(Object.keys(parameterSchema.shape).map((key) => [key, parameters.get(key)])),
  )
  const id = idSchema.safeParse(rest)
  return {
    captureId: id.success ? id.data : null,
    filter: {
      campaignId: given.campaign,
      sweepId: given.sweep,
      from: given.from,
      to: given.to,
      flag: given.flag,
      review: given.review,
      verdict: given.verdict,
      doubtful: given.doubtful === 'yes',
      noted: given.noted === 'yes',
      sort: given.sort,
      descending: given.order === 'down',
    },
  }
}

/** The address of a view, without what it does not ask. */
export function writeAddress(address: DeskAddress): string {
  const { filter } = address
  const parameters = new URLSearchParams()
  const put = (name: string, value: string | number | null) => {
    if (value !== null) parameters.set(name, String(value))
  }
  put('campaign', filter.campaignId)
  put('sweep', filter.sweepId)
  put('from', filter.from)
  put('to', filter.to)
  put('flag', filter.flag)
  put('review', filter.review)
  put('verdict', filter.verdict)
  put('doubtful', filter.doubtful ? 'yes' : null)
  put('noted', filter.noted ? 'yes' : null)
  put('sort', filter.sort === 'id' ? null : filter.sort)
  put('order', filter.descending ? 'down' : null)
  const query = parameters.toString()
  const path = address.captureId === null ? '#/traces' : `#/traces/${address.captureId}`
  return query === '' ? path : `${path}?${query}`
}

/** The host's form of the filters, without its page. */
export function hostFilter(filter: DeskFilter, recipeHash: string): Omit<CaptureFilter, 'offset' | 'limit'> {
  return {
    recipeHash,
    ...(filter.campaignId === null ? {} : { campaignId: filter.campaignId }),
    ...(filter.sweepId === null ? {} : { sweepId: filter.sweepId }),
    ...(filter.from === null ? {} : { from: filter.from }),
    ...(filter.to === null ? {} : { to: filter.to }),
    ...(filter.flag === null ? {} : { flag: filter.flag }),
    ...(filter.review === null ? {} : { review: filter.review }),
    ...(filter.verdict === null ? {} : { verdict: filter.verdict }),
    ...(filter.doubtful ? { doubtful: true } : {}),
    ...(filter.noted ? { noted: true } : {}),
    sort: { by: filter.sort, descending: filter.descending },
  }
}

/** True when the filters leave something out. */
export function asksSomething(filter: DeskFilter): boolean {
  const { sort: _sort, descending: _descending, ...asked } = filter
  return Object.values(asked).some((value) => value !== null && value !== false)
}

/** Measure a list ordered this way prints: the one it is ordered by, else the transition duration. */
export function listedMeasure(sort: SortBy): MeasureId {
  return MEASURE_IDS.find((id) => id === sort) ?? 'transition_duration_s'
}
