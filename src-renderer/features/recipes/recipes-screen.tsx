import './recipes.css'
import './editor.css'
import './effects.css'
import './compared.css'
import { memo, useCallback, useMemo } from 'react'
import { Tab, TabList, TabPanel, Tabs } from 'react-aria-components'
import { recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import { recipeFileName, recipeFileText, recipeFromText } from '#shared/domain/recipe-file.ts'
import { goTo, parseRoute, useHash } from '../../navigation/route.ts'
import { describeError } from '../../client/errors.ts'
import { useHostState } from '../../client/host.tsx'
import { useCampaigns, useRecipes, useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { EmptyState } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { useNotices } from '../../client/notices.tsx'
import { saveText } from '../../client/download.ts'
import { ApplyPane } from './apply-pane.tsx'
import { redoEdit, undoEdit } from '../../ui/undo-history.ts'
import { editDraft } from './draft.ts'
import { DRAFTS, useDraft, useUnsaved } from './drafts.ts'
import { useExample } from './example-choice.tsx'
import { ExamplePane } from './example-pane.tsx'
import { useKept } from '../../ui/use-kept.ts'
import { withField } from './parameters.ts'
import { RecipeEditor } from './recipe-editor.tsx'
import { RecipeList, type KnownRecipe } from './recipe-list.tsx'
import { SamplePane } from './sample-pane.tsx'
import { sweepText } from './scope-choice.tsx'
import type { EditedRecipe } from './use-preview.ts'

/** `#/recipes/<hash>`: the list, one recipe to edit, and what it does to the captures. */
export function RecipesScreen() {
  const recipes = useRecipes()
  const inUseHash = useHostState((state) => state.recipeHash)
  const { rest } = parseRoute(useHash())
  const wanted = rest === '' ? inUseHash : rest
  const known = recipes.data ?? []
  const shown = known.find(({ hash }) => hash === wanted) ?? null
  const inUse = known.find(({ hash }) => hash === inUseHash) ?? null
  const save = useSave()
  const importFile = useImport(save)
  const edited = useUnsaved()
  return (
    <div className="panes recipes">
      <RecipeList
        recipes={known}
        shown={shown?.hash ?? null}
        inUse={inUseHash}
        edited={edited}
        onImport={(file) => void importFile(file)}
      />
      {shown !== null && inUse !== null ? (
        <Workplace key={shown.hash} shown={shown} inUse={inUse} recipes={known} onSave={save} />
      ) : recipes.error !== null ? (
        <EmptyState title="The recipes could not be read">{describeError(recipes.error).message}</EmptyState>
      ) : recipes.data === undefined ? (
        <p className="hint">Reading the recipes…</p>
      ) : (
        <EmptyState title={`No recipe has the hash ${wanted}`}>
          Choose one from the list, or import its file.
        </EmptyState>
      )}
    </div>
  )
}

type Save = (recipe: Recipe) => Promise<{ hash: string } | null>

/** Stores a recipe and shows it, or the saved one that has its parameters. */
function useSave(): Save {
  const notices = useNotices()
  const command = useCommand('The recipe could not be saved', (client, recipe: Recipe) => client.recipes.save(recipe))
  return async (recipe) => {
    const saved = await command.run(recipe)
    if (saved === null) return null
    // What was added is seen at once; that nothing had to be is worth a word.
    if (!saved.added)
      notices.raise({
        kind: 'info',
        title: 'Already saved',
        message: `These parameters are in the archive already, as “${saved.name}”, ${saved.hash.slice(0, 8)}.`,
        remedy: '',
      })
    goTo(`#/recipes/${saved.hash}`)
    return saved
  }
}

/** Largest file that can be a recipe, bytes. */
const LARGEST_FILE = 100_000

function useImport(save: Save): (file: File) => Promise<void> {
  const notices = useNotices()
  const title = 'Import a recipe'
  return async (file) => {
    try {
      const recipe = recipeFromText(file.size > LARGEST_FILE ? '' : await file.text(), file.name)
      notices.settle(title)
      await save(recipe)
    } catch (error) {
      const { message, remedy } = describeError(error)
      notices.raise({ kind: 'error', title, message, remedy })
    }
  }
}

interface WorkplaceProps {
  readonly shown: KnownRecipe
  readonly inUse: KnownRecipe
  readonly recipes: readonly KnownRecipe[]
  readonly onSave: Save
}

/** One saved recipe with its draft: parameters on the left, what they do on the right. */
function Workplace({ shown, inUse, recipes, onSave }: WorkplaceProps) {
  const { hash, recipe: saved } = shown
  const draft = useDraft(hash)
  const recipe = draft?.present ?? saved
  const draftHash = recipeHash(recipe)
  const twin = recipes.find((known) => known.hash === draftHash)
  const edit = useCallback(
    (field: string, value: number | string | boolean) =>
      DRAFTS.update(hash, saved, (now) =>
        editDraft(now, field, withField(now.present, field, value), performance.now()),
      ),
    [hash, saved],
  )
  const edited = useMemo(
    (): EditedRecipe => ({ current: () => DRAFTS.get(hash)?.present ?? saved, watch: DRAFTS.subscribe }),
    [hash, saved],
  )
  const save = useCallback(
    (name: string, note: string) => {
      const run = async (): Promise<void> => {
        // A citation holds for the parameters it was given for, not for changed ones.
        if ((await onSave({ ...edited.current(), name, note, follows: '' })) !== null) DRAFTS.drop(hash)
      }
      void run()
    },
    [onSave, edited, hash],
  )
  const names = useMemo(() => recipes.map((known) => known.recipe.name), [recipes])
  return (
    <>
      <RecipeEditor
        saved={saved}
        savedHash={hash}
        recipe={recipe}
        canUndo={(draft?.past.length ?? 0) > 0}
        canRedo={(draft?.future.length ?? 0) > 0}
        onEdit={edit}
        onReset={() => DRAFTS.update(hash, saved, (now) => editDraft(now, 'reset', saved, performance.now()))}
        onUndo={() => DRAFTS.update(hash, saved, undoEdit)}
        onRedo={() => DRAFTS.update(hash, saved, redoEdit)}
        onExport={() => saveText({ name: recipeFileName(recipe), text: recipeFileText(recipe) }, 'application/json')}
        names={names}
        twin={twin === undefined || twin.hash === hash ? null : twin}
        onSave={save}
      />
      <Effects shown={shown} inUse={inUse} recipes={recipes} edited={edited} hasUnsaved={draftHash !== hash} />
    </>
  )
}

type EffectsProps = Omit<WorkplaceProps, 'onSave'> & { readonly edited: EditedRecipe; readonly hasUnsaved: boolean }

/** What the recipe does: to one trace at once, to a sample on demand, to everything when it is applied. */
const Effects = memo(function Effects({ shown, inUse, recipes, edited, hasUnsaved }: EffectsProps) {
  const campaigns = useCampaigns().data ?? []
  const answer = useHostQuery(['sweeps', 'all'], (client, signal) => client.sweeps.list({}, { signal }))
  const sweeps = useMemo(() => (answer.data ?? []).filter(({ done }) => done > 0), [answer.data])
  const [chosen, setChosen] = useKept<number | null>('recipes: sweep', null)
  const [tab, setTab] = useKept<string>('recipes: tab', 'example')
  const sweep = sweeps.find(({ id }) => id === chosen) ?? sweeps.at(-1) ?? null
  const example = useExample(sweep, inUse.hash)
  return (
    <div className="pane recipe-effects">
      {sweep === null ? null : (
        <div className="recipe-sweep">
          <SelectInput
            label="Captures of"
            value={String(sweep.id)}
            choices={sweeps.map((one) => ({
              id: String(one.id),
              label: sweepText(one),
              note: campaigns.find(({ id }) => id === one.campaignId)?.name ?? '',
            }))}
            onChange={(id) => setChosen(Number(id))}
          />
        </div>
      )}
      <Tabs className="tabs recipe-tabs" selectedKey={tab} onSelectionChange={(key) => setTab(String(key))}>
        <TabList className="tab-list" aria-label="What the recipe does">
          <Tab id="example" className="tab">
            Example
          </Tab>
          <Tab id="sample" className="tab">
            Sample
          </Tab>
          <Tab id="apply" className="tab">
            Apply and compare
          </Tab>
        </TabList>
        <TabPanel id="example" className="tab-panel">
          <ExamplePane sweep={sweep} example={example} edited={edited} inUse={inUse} recipeName={shown.recipe.name} />
        </TabPanel>
        <TabPanel id="sample" className="tab-panel">
          <SamplePane shown={shown} inUse={inUse} sweep={sweep} sweeps={sweeps} campaigns={campaigns} />
        </TabPanel>
        <TabPanel id="apply" className="tab-panel">
          <ApplyPane
            saved={shown.recipe}
            savedHash={shown.hash}
            hasUnsaved={hasUnsaved}
            recipes={recipes}
            inUseHash={inUse.hash}
            sweep={sweep}
            campaigns={campaigns}
          />
        </TabPanel>
      </Tabs>
    </div>
  )
})
