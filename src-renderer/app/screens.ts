import type { ComponentType } from 'react'
import { BenchScreen } from '../features/bench/bench-screen.tsx'
import { CampaignScreen } from '../features/campaign/campaign-screen.tsx'
import { FindingsScreen } from '../features/findings/findings-screen.tsx'
import { TracesScreen } from '../features/traces/traces-screen.tsx'
import { RecipesScreen } from '../features/recipes/recipes-screen.tsx'
import { ImportScreen } from '../features/import/import-screen.tsx'
import { RecordScreen } from '../features/record/record-screen.tsx'
import { LightScreen } from '../features/light/light-screen.tsx'

export interface Screen {
  /** Part of the address after `#/`. */
  readonly id: string
  readonly title: string
  readonly Component: ComponentType
}

/** Screens in the order of the navigation; the first is the start page. */
export const SCREENS: readonly Screen[] = [
  { id: 'bench', title: 'Bench', Component: BenchScreen },
  { id: 'campaign', title: 'Campaign', Component: CampaignScreen },
  { id: 'findings', title: 'Findings', Component: FindingsScreen },
  { id: 'traces', title: 'Traces', Component: TracesScreen },
  { id: 'recipes', title: 'Recipes', Component: RecipesScreen },
  { id: 'light', title: 'Light', Component: LightScreen },
  { id: 'record', title: 'Record', Component: RecordScreen },
  { id: 'import', title: 'Import', Component: ImportScreen },
]
