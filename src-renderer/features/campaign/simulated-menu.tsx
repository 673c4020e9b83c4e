import { SIM_SETTINGS, type SimSetting } from '#shared/domain/rig.ts'
import { useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { Segmented } from '../../ui/controls.tsx'
import { TextInput } from '../../ui/fields.tsx'
import { useKept } from '../../ui/use-kept.ts'

/** The menu of a simulated display, for want of a real one: it does what its user does, also nothing. */
export function SimulatedMenu({ runId }: { readonly runId: number }) {
  const simulated = useHostState((state) => state.stimulus.kind === 'simulated')
  const [setting, setSetting] = useKept<SimSetting | null>(`simulated-setting-${runId}`, null)
  const [refresh, setRefresh] = useKept(`simulated-refresh-${runId}`, '')
  const menu = useCommand(
    'The simulated display could not be set',
    (client, next: { setting?: SimSetting; refreshHz?: number }) => client.stimulus.simulatedMenu(next),
  )
  if (!simulated) return null
  return (
    <aside className="simulated-menu" aria-label="Menu of the simulated display">
      <strong>Menu of the simulated display</strong>
      <Segmented
        label="Overdrive of the simulated display"
        value={setting}
        choices={SIM_SETTINGS.map((id) => ({ id, label: id }))}
        onChange={(next) => {
          setSetting(next)
          void menu.run({ setting: next })
        }}
      />
      <TextInput
        label="Refresh rate"
        unit="Hz"
        inputMode="decimal"
        value={refresh}
        onChange={(text) => {
          setRefresh(text)
          const refreshHz = Number(text)
          if (refreshHz >= 10 && refreshHz <= 1000) void menu.run({ refreshHz })
        }}
      />
    </aside>
  )
}
