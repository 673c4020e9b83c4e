import type { Limits } from '#shared/findings/campaign/figures.ts'
import type { Weighting } from '#shared/findings/campaign/over-refresh.ts'
import { saveBytes } from '../../client/download.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'

/** Report and evidence of what is on the screen, under the limits in sight. */
export function ReportActions(props: {
  readonly campaignId: number
  readonly limits: Limits
  readonly weighting: Weighting
  readonly isDisabled: boolean
}) {
  const { campaignId, limits, weighting, isDisabled } = props
  const report = useCommand('Make the report', (client, form: 'html' | 'pdf') =>
    client.campaigns.report({ campaignId, limits, weighting, form }),
  )
  const bundle = useCommand('Make the bundle', (client) => client.campaigns.bundle({ campaignId, limits, weighting }))
  const save = async (made: Promise<{ name: string; bytes: Uint8Array } | null>): Promise<void> => {
    const file = await made
    if (file !== null) saveBytes(file)
  }
  return (
    <section className="report-actions" aria-label="Publish">
      <h2>Publish</h2>
      <Action isDisabled={isDisabled} isPending={report.busy} onPress={() => void save(report.run('html'))}>
        Report, HTML
      </Action>
      <Action isDisabled={isDisabled} isPending={report.busy} onPress={() => void save(report.run('pdf'))}>
        Report, PDF
      </Action>
      <Action isDisabled={isDisabled} isPending={bundle.busy} onPress={() => void save(bundle.run())}>
        Evidence bundle
      </Action>
      <p className="hint">
        The bundle holds raw traces, results and recipe. Anyone can check it: <code>slewlight verify bundle.zip</code>
      </p>
    </section>
  )
}
