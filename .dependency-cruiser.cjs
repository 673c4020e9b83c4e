/** The direction of imports (DEVELOPERS.md, "Dependency rules"); run by `npm run rules`. */
const adapters = ['rig', 'store', 'stimulus', 'analysis', 'export', 'publish', 'api', 'transport', 'electron', 'platform', 'cli', 'threads']
/** Paths as a pattern, or with exceptions as `{ path, pathNot }`. */
const never = (name, from, to, comment) => {
  const place = (given) => (typeof given === 'string' ? { path: given } : given)
  return { name, severity: 'error', from: place(from), to: place(to), ...(comment === undefined ? {} : { comment }) }
}
const only = (name, packagePattern, allowed) => never(name, { pathNot: allowed, path: '^src-' }, packagePattern)

module.exports = {
  forbidden: [
    // Imports of types count: two files that know each other's types are one.
    never('no-circular', {}, { circular: true }),
    never('shared-imports-only-itself', '^src-shared', '^src-(main|renderer)'),
    never('shared-runs-anywhere', '^src-shared', { dependencyTypes: ['core'] }),
    never('renderer-imports-only-shared', '^src-renderer', '^src-main'),
    never(
      'features-stay-apart',
      '^src-renderer/features/([^/]+)/',
      { path: '^src-renderer/(app|features)/', pathNot: '^src-renderer/features/$1/' },
      'What two features need stands in navigation, parts, ui, client or plot.',
    ),
    never(
      'renderer-client-shows-nothing',
      '^src-renderer/client/',
      { path: '^src-renderer/', pathNot: '^src-renderer/client/' },
    ),
    never(
      'renderer-ui-asks-nothing',
      '^src-renderer/(ui|navigation)/',
      { path: '^src-renderer/', pathNot: '^src-renderer/(ui|navigation)/' },
    ),
    never('renderer-plot-draws-only', '^src-renderer/plot/', '^src-renderer/(app|client|features|parts|navigation)/'),
    never('renderer-parts-below-features', '^src-renderer/parts/', '^src-renderer/(app|features)/'),
    never('stimulus-page-alone', '^src-renderer/stimulus/', '^src-renderer/(app|features|ui|parts|plot|navigation)/'),
    never(
      'cli-behind-core',
      '^src-main/cli/',
      { path: '^src-main/', pathNot: ['^src-main/(cli|core|export|platform)/', '^src-main/rig/simulated/'] },
      'The command line asks the core as the screens do; it writes files and plays the simulated rig itself.',
    ),
    never('main-never-imports-renderer', '^src-main', '^src-renderer'),
    never(
      'core-sees-only-ports',
      { path: '^src-main/core', pathNot: '^src-main/core/ports\\.ts$' },
      { path: '^src-main/', pathNot: '^src-main/core/' },
    ),
    never(
      'ports-take-only-the-types-of-the-operation-table',
      '^src-main/core/ports\\.ts$',
      { path: '^src-main/', pathNot: ['^src-main/core/', '^src-main/store/operations\\.ts$'] },
    ),
    never(
      'ports-are-types',
      '^src-main/core/ports\\.ts$',
      { path: '^src-main/store/', dependencyTypesNot: ['type-only'] },
    ),
    ...adapters
      .filter((adapter) => adapter !== 'cli')
      .map((adapter) =>
        never(`adapter-${adapter}-alone`, `^src-main/${adapter}/`, {
          path: '^src-main/',
          // Threads are one mechanism for every adapter that has some.
          pathNot: [`^src-main/${adapter}/`, '^src-main/(core|threads)/'],
        }),
      ),
    never('domain-at-the-bottom', '^src-shared/domain', { path: '^src-shared/', pathNot: '^src-shared/domain' }),
    never('signal-knows-no-screens', '^src-shared/signal', '^src-shared/(contract|measure|findings|import)'),
    only('electron-in-the-shell-only', '^(electron|node_modules/electron)(/|$)', [
      '^src-main/electron/',
      '^src-main/transport/ipc',
      '^src-main/entry/electron',
    ]),
    only('serialport-in-one-place', 'node_modules/(serialport|@serialport)/', ['^src-main/rig/transport/serial']),
    only('sqlite-in-the-store', 'node_modules/better-sqlite3/', ['^src-main/store/']),
    only('uplot-in-plot', 'node_modules/uplot/', ['^src-renderer/plot/']),
    never('resolvable', {}, { couldNotResolve: true, pathNot: ['\\?nodeWorker', '\\?modulePath', '^electron$'] }),
    never(
      'migrations-are-frozen',
      '^src-main/store/migrations/',
      { path: '^src-', pathNot: '^src-main/store/migrations/' },
    ),
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    exclude: { path: '^out/' },
    tsPreCompilationDeps: true,
    parser: 'swc',
    enhancedResolveOptions: {
      exportsFields: ['exports'],
      conditionNames: ['import', 'require', 'node', 'default', 'types'],
      mainFields: ['module', 'main', 'types'],
      extensions: ['.ts', '.tsx', '.js', '.cjs', '.mjs', '.d.ts'],
    },
  },
}
