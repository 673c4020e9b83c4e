import { FileTrigger } from 'react-aria-components'
import { RECIPE_PRESETS, recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import { Action, Card } from '../../ui/controls.tsx'
import { unbroken } from '../../ui/format.ts'

export interface KnownRecipe {
  readonly hash: string
  readonly recipe: Recipe
}

const PRESET_HASHES: ReadonlySet<string> = new Set(RECIPE_PRESETS.map(recipeHash))

export interface RecipeListProps {
  readonly recipes: readonly KnownRecipe[]
  readonly shown: string | null
  readonly inUse: string
  /** Saved recipes with edits that are not saved. */
  readonly edited: readonly string[]
  readonly onImport: (file: File) => void
}

/** All recipes of the archive: the presets first, then one's own in the order they were saved. */
export function RecipeList({ recipes, shown, inUse, edited, onImport }: RecipeListProps) {
  const presets = recipes.filter(({ hash }) => PRESET_HASHES.has(hash))
  const own = recipes.filter(({ hash }) => !PRESET_HASHES.has(hash))
  const entry = ({ hash, recipe }: KnownRecipe) => (
    <li key={hash}>
      <a className="recipe-entry" href={`#/recipes/${hash}`} aria-current={hash === shown ? 'true' : undefined}>
        <span className="recipe-entry-name">{unbroken(recipe.name)}</span>
        {recipe.follows === '' ? null : <span className="minor">{recipe.follows}</span>}
        <span className="minor">{hash.slice(0, 8)}</span>
        {hash === inUse ? <span className="status-good minor-mark">● used by all screens</span> : null}
        {edited.includes(hash) ? <span className="warn-text minor-mark">▲ unsaved changes</span> : null}
      </a>
    </li>
  )
  return (
    <nav className="recipe-nav" aria-label="Recipes">
      <Card
        title="Presets"
        className="recipe-card"
        aside={
          <FileTrigger
            acceptedFileTypes={['.json', 'application/json']}
            onSelect={(files) => {
              const file = files?.[0]
              if (file !== undefined) onImport(file)
            }}
          >
            <Action size="small">Import…</Action>
          </FileTrigger>
        }
      >
        <ul className="recipe-entries">{presets.map(entry)}</ul>
      </Card>
      <Card title="Your recipes" className="recipe-card">
        {own.length === 0 ? (
          <p className="hint">None yet. Change a parameter of a preset and save it under a name.</p>
        ) : (
          <ul className="recipe-entries">{own.map(entry)}</ul>
        )}
      </Card>
    </nav>
  )
}
