import { useState } from 'react'
import type { Campaign, CaptureInfo, Sweep } from '#shared/domain/capture.ts'
import type { LightPart } from '#shared/domain/light.ts'
import type { Reading } from '#shared/domain/reading.ts'
import type { LightReading } from '#shared/measure/light.ts'
import { type LightOrigin, readingsOfLight, storedBefore } from '#shared/record/light-readings.ts'
import { useHostState } from '../../client/host.tsx'
import { useCampaigns, useCapture, useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action, Segmented } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { hertz, plural } from '../../ui/format.ts'
import type { LightSource } from './source.ts'

const PLACES = [
  { id: 'top', label: 'Top' },
  { id: 'centre', label: 'Centre' },
  { id: 'bottom', label: 'Bottom' },
] as const
type Place = (typeof PLACES)[number]['id']
const PARTS: Readonly<Record<LightPart, string>> = {
  after: 'after the change',
  before: 'before the change',
  record: 'whole record',
}

/** Where the light comes from as far as its readings need it. */
type Origin = Pick<LightOrigin, 'sweepId' | 'source'> & { readonly campaign: Campaign; readonly picture: string }

/** What is shown becomes readings of the display's record, by one press; never twice without saying so. */
export function StoreLight({ reading, source }: { readonly reading: LightReading; readonly source: LightSource }) {
  return source.kind === 'capture' ? (
    <StoreCapture reading={reading} captureId={source.captureId} part={source.part} />
  ) : (
    <StoreRecording reading={reading} name={source.name} />
  )
}

function StoreCapture(props: { readonly reading: LightReading; readonly captureId: number; readonly part: LightPart }) {
  const { reading, captureId, part } = props
  const recipeHash = useHostState((state) => state.recipeHash)
  const campaigns = useCampaigns().data ?? []
  const info = useCapture(captureId, recipeHash).data?.info ?? null
  const sweep = useHostQuery(
    ['sweeps', 'one', info?.sweepId],
    (client, signal) => client.sweeps.get({ sweepId: info?.sweepId ?? 0 }, { signal }),
    { enabled: info !== null },
  ).data
  const campaign = campaigns.find(({ id }) => id === sweep?.campaignId)
  if (info === null || sweep === undefined || campaign === undefined) return null
  return (
    <Store
      reading={reading}
      origin={{
        campaign,
        sweepId: sweep.id,
        source: `capture ${captureId}, ${PARTS[part]}`,
        picture: pictureOf(info, sweep, part),
      }}
    />
  )
}

function pictureOf({ from, to }: Pick<CaptureInfo, 'from' | 'to'>, { plan }: Sweep, part: LightPart): string {
  const level = { after: String(to), before: String(from), record: `${from} to ${to}` }[part]
  return `level ${level}, ${plan.setting} at ${hertz(plan.refreshHz)} Hz`
}

function StoreRecording({ reading, name }: { readonly reading: LightReading; readonly name: string }) {
  const campaigns = useCampaigns().data ?? []
  const [wanted, setWanted] = useState<number | null>(null)
  const campaign = campaigns.find(({ id }) => id === wanted) ?? campaigns.at(-1)
  if (campaign === undefined) return null
  return (
    <>
      <SelectInput
        label="Display of the recording"
        value={String(campaign.id)}
        choices={campaigns.map((one) => ({ id: String(one.id), label: one.name, note: one.display }))}
        onChange={(id) => setWanted(Number(id))}
      />
      <Store
        reading={reading}
        origin={{ campaign, sweepId: null, source: `recording ${name}`, picture: `recording ${name.slice(0, 150)}` }}
      />
    </>
  )
}

function Store({
  reading,
  origin: { campaign, picture, ...from },
}: {
  readonly reading: LightReading
  readonly origin: Origin
}) {
  const [at, setAt] = useState<Place>('centre')
  const [last, setLast] = useState<readonly Reading[]>([])
  const known = useHostQuery(['readings', campaign.id], (client, signal) =>
    client.readings.list({ campaignId: campaign.id, includeHidden: true }, { signal }),
  )
  const place = `${at}, ${picture}`
  const there = storedBefore(known.data ?? [], { ...from, place })
  const store = useCommand('The light could not be stored', (client) =>
    client.readings.addAll({
      readings: readingsOfLight(reading, {
        ...from,
        campaignId: campaign.id,
        place,
        note: [...reading.warnings, ...reading.notes].join(' '),
        at: new Date().toISOString(),
      }),
    }),
  )
  const hide = useCommand('Storing could not be undone', (client, readings: readonly Reading[]) =>
    Promise.all(readings.map(({ id }) => client.readings.hide({ readingId: id, hidden: true }))),
  )
  const press = async (): Promise<void> => {
    const stored = await store.run()
    if (stored !== null) setLast(stored)
  }
  const undo = async (): Promise<void> => {
    if ((await hide.run(last)) !== null) setLast([])
  }
  const undoable = last.filter(({ id }) => there.some((one) => one.id === id))
  const count = readingsOfLight(reading, { ...from, campaignId: campaign.id, place, note: '', at: EPOCH }).length
  return (
    <section className="light-store" aria-label="On the record">
      <h2>Store on the record</h2>
      <Segmented label="Where the sensor was" value={at} choices={PLACES} onChange={setAt} />
      <Action
        tone={there.length === 0 ? 'main' : 'plain'}
        isPending={store.busy}
        isDisabled={known.data === undefined || count === 0}
        onPress={() => void press()}
      >
        {there.length === 0 ? 'Store these readings' : 'Store these readings again'}
      </Action>
      <p role="status" className="hint">
        {there.length === 0
          ? `${plural(count, 'reading')} of ${campaign.name}, ${place}.`
          : `On the record of ${campaign.name} since ${(there.at(-1)?.at ?? '').slice(0, 16).replace('T', ' ')} UTC: ${plural(there.length, 'reading')}, ${place}.`}{' '}
        <a href={`#/record/${campaign.id}`}>Open the record</a>
      </p>
      {undoable.length === 0 ? null : (
        <Action size="small" isPending={hide.busy} onPress={() => void undo()}>
          Undo storing
        </Action>
      )}
    </section>
  )
}

/** A moment for readings that are only counted. */
const EPOCH = '1970-01-01T00:00:00Z'
