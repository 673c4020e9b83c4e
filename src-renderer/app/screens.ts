import type { ComponentType } from 'react'
import { BenchScreen } from '../features/bench/bench-screen.tsx'
import { RecipesScreen } from '../features/recipes/recipes-screen.tsx'

export interface Screen {
  /** Part of the address after `#/`. */
  readonly id: string
  readonly title: string
  readonly Component: ComponentType
}

/** Screens in the order of the navigation; the first is the start page. */
export const SCREENS: readonly Screen[] = [
  { id: 'bench', title: 'Bench', Component: BenchScreen },
  { id: 'recipes', title: 'Recipes', Component: RecipesScreen },
]
