import { useHostState } from '../client/host.tsx'
import { useRecipes } from '../client/queries.ts'

/** The recipe behind every number on every screen, always in sight; its short hash appears on hover and focus. */
export function RecipeBadge() {
  const hash = useHostState((state) => state.recipeHash)
  const recipes = useRecipes()
  const name = recipes.data?.find((known) => known.hash === hash)?.recipe.name ?? hash.slice(0, 8)
  return (
    <a className="recipe-badge" href={`#/recipes/${hash}`}>
      <span className="recipe-badge-word">Recipe </span>
      <span className="recipe-badge-name">{name}</span>
      <span className="visually-hidden"> (used by all screens, hash {hash.slice(0, 8)})</span>
      <span className="recipe-badge-hash" aria-hidden="true">
        {name} · {hash.slice(0, 8)} · used by all screens
      </span>
    </a>
  )
}
