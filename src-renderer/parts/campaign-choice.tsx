import type { Campaign } from '#shared/domain/capture.ts'
import { goTo } from '../navigation/route.ts'
import { StatusDot } from '../ui/controls.tsx'
import { SelectInput } from '../ui/fields.tsx'

/** Whose display a screen shows; invented ones are marked. The screen keeps the campaign in its address. */
export function CampaignChoice(props: {
  readonly known: readonly Campaign[]
  readonly chosen: Campaign | null
  readonly screen: string
}) {
  const { known, chosen, screen } = props
  return (
    <>
      <SelectInput
        label="Campaign"
        value={chosen === null ? null : String(chosen.id)}
        choices={known.map(({ id, name, display }) => ({ id: String(id), label: name, note: display }))}
        onChange={(id) => goTo(`#/${screen}/${id}`)}
      />
      {chosen?.origin === 'simulated' ? <StatusDot tone="warn">Invented display, simulated rig</StatusDot> : null}
    </>
  )
}
