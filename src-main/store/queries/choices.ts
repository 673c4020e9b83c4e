/** What people chose and find again: limits of a campaign, plans under a name. */
import { AppError } from '#shared/domain/errors.ts'
import { type CampaignPlan, type PlanTemplate, planTemplateSchema } from '#shared/domain/campaign-plan.ts'
import { type Judgement, judgementSchema } from '#shared/findings/campaign/figures.ts'
import type { Archive } from '../archive.ts'

/** Null while nobody chose, and where what was chosen cannot be read any more. */
export function judgement(archive: Archive, { campaignId }: { readonly campaignId: number }): Judgement | null {
  const chosen = archive.sql('SELECT chosen FROM judgement WHERE id = ?').pluck().get(campaignId) as string | undefined
  if (chosen === undefined) return null
  const read = judgementSchema.safeParse(JSON.parse(chosen))
  return read.success ? read.data : null
}

export function judge(
  archive: Archive,
  request: { readonly campaignId: number; readonly judgement: Judgement | null },
): Judgement | null {
  const { campaignId, judgement: chosen } = request
  if (archive.sql('SELECT 1 FROM campaign WHERE id = ?').get(campaignId) === undefined)
    throw new AppError('not-found', `Campaign ${campaignId} is not in the archive.`)
  if (chosen === null) archive.sql('DELETE FROM judgement WHERE id = ?').run(campaignId)
  else
    archive
      .sql('INSERT OR REPLACE INTO judgement (id, chosen, at) VALUES (?, ?, ?)')
      .run(campaignId, JSON.stringify(chosen), archive.at)
  return judgement(archive, { campaignId })
}

/** In order of name; one that a later version wrote and this one cannot read is not listed. */
export function planTemplates(archive: Archive): PlanTemplate[] {
  const rows = archive
    .sql('SELECT name, plan FROM plan_template WHERE deleted = 0 ORDER BY name COLLATE NOCASE')
    .all() as {
    name: string
    plan: string
  }[]
  return rows.flatMap(({ name, plan }) => {
    const read = planTemplateSchema.safeParse({ name, plan: JSON.parse(plan) })
    return read.success ? [read.data] : []
  })
}

/** A name that is there takes the new plan. */
export function savePlanTemplate(
  archive: Archive,
  { name, plan }: { readonly name: string; readonly plan: CampaignPlan },
): PlanTemplate[] {
  archive
    .sql(
      `INSERT INTO plan_template (name, plan, at) VALUES (?, ?, ?)
        ON CONFLICT (name) DO UPDATE SET plan = excluded.plan, at = excluded.at, deleted = 0`,
    )
    .run(name, JSON.stringify(plan), archive.at)
  return planTemplates(archive)
}

export function deletePlanTemplate(archive: Archive, { name }: { readonly name: string }): PlanTemplate[] {
  const { changes } = archive.sql('UPDATE plan_template SET deleted = 1 WHERE name = ? AND deleted = 0').run(name)
  if (changes === 0) throw new AppError('not-found', `There is no plan “${name}”.`)
  return planTemplates(archive)
}
