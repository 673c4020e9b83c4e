import { RECORD_KIND_IDS, RECORD_KINDS, rowsOf } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import { cgatsOf } from '#shared/import/record-rows.ts'
import { spectraOf } from '#shared/import/spectra-readings.ts'
import { saveText } from '../../client/download.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'
import { dayAndTime } from '../../ui/format.ts'

/** Where every number comes from: the readings as they were entered, newest first; none is ever deleted. */
export function ReadingList({ readings }: { readings: readonly Reading[] }) {
  const hide = useCommand('The reading could not be changed', (client, readingId: number, hidden: boolean) =>
    client.readings.hide({ readingId, hidden }),
  )
  if (readings.length === 0) return null
  return (
    <section aria-label="Readings" className="record-quantity">
      <h2>Readings</h2>
      <table className="record-table record-readings" aria-label="Readings of this record">
        <thead>
          <tr>
            <th scope="col">What</th>
            <th scope="col" className="align-end">
              Rows
            </th>
            <th scope="col">Taken</th>
            <th scope="col">Source</th>
            <th scope="col">Actions</th>
          </tr>
        </thead>
        <tbody>
          {readings.toReversed().map((reading) => {
            const kind = RECORD_KIND_IDS.find((id) => id === reading.kind)
            const label =
              kind === undefined ? (reading.kind === 'strobe' ? 'Strobing' : 'Light') : RECORD_KINDS[kind].label
            const name = reading.quantity === label ? label : `${label}: ${reading.quantity.replaceAll('_', ' ')}`
            return (
              <tr key={reading.id} className={reading.hidden ? 'record-hidden' : ''}>
                <th scope="row">
                  {name}
                  {reading.place === '' ? '' : `, ${reading.place}`}
                  {reading.setting === null ? '' : `, ${reading.setting}`}
                  {reading.refreshHz === null ? '' : ` at ${hertz(reading.refreshHz)} Hz`}
                  {reading.hidden ? ' (left out)' : ''}
                </th>
                <td className="align-end digits">{reading.value === null ? rowsOf(reading).length : 1}</td>
                <td className="digits">{dayAndTime(reading.at)}</td>
                <td className="minor">{reading.source}</td>
                <td>
                  <span className="record-actions">
                    <Action
                      size="small"
                      aria-label={`${reading.hidden ? 'Restore' : 'Leave out'} ${name}, reading ${reading.id}`}
                      onPress={() => void hide.run(reading.id, !reading.hidden)}
                    >
                      {reading.hidden ? 'Restore' : 'Leave out'}
                    </Action>
                    {reading.kind === 'colour-patches' ? (
                      <Action
                        size="small"
                        aria-label={`Save ${name} as CGATS, reading ${reading.id}`}
                        onPress={() =>
                          saveText(
                            { name: `patches-${reading.id}.txt`, text: cgatsOf(reading, spectraOf(reading, readings)) },
                            'text/plain;charset=utf-8',
                          )
                        }
                      >
                        Save as CGATS
                      </Action>
                    ) : null}
                  </span>
                </td>
              </tr>
            )
          })}
        </tbody>
      </table>
    </section>
  )
}
