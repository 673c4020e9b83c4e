/** The direction of imports (DEVELOPERS.md, "Dependency rules"); run by `npm run rules`. */
const adapters = ['rig', 'store', 'stimulus', 'analysis', 'export', 'publish', 'api', 'transport', 'electron', 'platform', 'cli']
const only = (name, packagePattern, allowed) => ({
  name,
  severity: 'error',
  from: { pathNot: allowed, path: '^src-' },
  to: { path: packagePattern },
})

module.exports = {
  forbidden: [
    // Imports of types count: two files that know each other's types are one.
    { name: 'no-circular', severity: 'error', from: {}, to: { circular: true } },
    {
      name: 'shared-imports-only-itself',
      severity: 'error',
      from: { path: '^src-shared' },
      to: { path: '^src-(main|renderer)' },
    },
    {
      name: 'shared-runs-anywhere',
      severity: 'error',
      from: { path: '^src-shared' },
      to: { dependencyTypes: ['core'] },
    },
    {
      name: 'renderer-imports-only-shared',
      severity: 'error',
      from: { path: '^src-renderer' },
      to: { path: '^src-main' },
    },
    {
      name: 'features-stay-apart',
      comment: 'What two features need stands in navigation, parts, ui, client or plot.',
      severity: 'error',
      from: { path: '^src-renderer/features/([^/]+)/' },
      to: { path: '^src-renderer/(app|features)/', pathNot: '^src-renderer/features/$1/' },
    },
    {
      name: 'renderer-client-shows-nothing',
      severity: 'error',
      from: { path: '^src-renderer/client/' },
      to: { path: '^src-renderer/', pathNot: '^src-renderer/client/' },
    },
    {
      name: 'renderer-ui-asks-nothing',
      severity: 'error',
      from: { path: '^src-renderer/(ui|navigation)/' },
      to: { path: '^src-renderer/', pathNot: '^src-renderer/(ui|navigation)/' },
    },
    {
      name: 'renderer-plot-draws-only',
      severity: 'error',
      from: { path: '^src-renderer/plot/' },
      to: { path: '^src-renderer/(app|client|features|parts|navigation)/' },
    },
    {
      name: 'renderer-parts-below-features',
      severity: 'error',
      from: { path: '^src-renderer/parts/' },
      to: { path: '^src-renderer/(app|features)/' },
    },
    {
      name: 'stimulus-page-alone',
      severity: 'error',
      from: { path: '^src-renderer/stimulus/' },
      to: { path: '^src-renderer/(app|features|ui|parts|plot|navigation)/' },
    },
    {
      name: 'cli-behind-core',
      comment: 'The command line asks the core as the screens do; it writes files and plays the simulated rig itself.',
      severity: 'error',
      from: { path: '^src-main/cli/' },
      to: { path: '^src-main/', pathNot: ['^src-main/(cli|core|export|platform)/', '^src-main/rig/simulated/'] },
    },
    {
      name: 'main-never-imports-renderer',
      severity: 'error',
      from: { path: '^src-main' },
      to: { path: '^src-renderer' },
    },
    {
      name: 'core-sees-only-ports',
      severity: 'error',
      from: { path: '^src-main/core', pathNot: '^src-main/core/ports\\.ts$' },
      to: { path: '^src-main/', pathNot: '^src-main/core/' },
    },
    {
      name: 'ports-take-only-the-types-of-the-operation-table',
      severity: 'error',
      from: { path: '^src-main/core/ports\\.ts$' },
      to: { path: '^src-main/', pathNot: ['^src-main/core/', '^src-main/store/operations\\.ts$'] },
    },
    {
      name: 'ports-are-types',
      severity: 'error',
      from: { path: '^src-main/core/ports\\.ts$' },
      to: { path: '^src-main/store/', dependencyTypesNot: ['type-only'] },
    },
    ...adapters
      .filter((adapter) => adapter !== 'cli')
      .map((adapter) => ({
        name: `adapter-${adapter}-alone`,
        severity: 'error',
        from: { path: `^src-main/${adapter}/` },
        to: { path: '^src-main/', pathNot: [`^src-main/${adapter}/`, '^src-main/core/'] },
      })),
    {
      name: 'domain-at-the-bottom',
      severity: 'error',
      from: { path: '^src-shared/domain' },
      to: { path: '^src-shared/', pathNot: '^src-shared/domain' },
    },
    {
      name: 'signal-knows-no-screens',
      severity: 'error',
      from: { path: '^src-shared/signal' },
      to: { path: '^src-shared/(contract|measure|findings|import)' },
    },
    only('electron-in-the-shell-only', '^(electron|node_modules/electron)(/|$)', [
      '^src-main/electron/',
      '^src-main/transport/ipc',
      '^src-main/entry/electron',
    ]),
    only('serialport-in-one-place', 'node_modules/(serialport|@serialport)/', ['^src-main/rig/transport/serial']),
    only('sqlite-in-the-store', 'node_modules/better-sqlite3/', ['^src-main/store/']),
    only('uplot-in-plot', 'node_modules/uplot/', ['^src-renderer/plot/']),
    {
      name: 'resolvable',
      severity: 'error',
      from: {},
      to: { couldNotResolve: true, pathNot: ['\\?nodeWorker', '\\?modulePath', '^electron$'] },
    },
    {
      name: 'migrations-are-frozen',
      severity: 'error',
      from: { path: '^src-main/store/migrations/' },
      to: { path: '^src-', pathNot: '^src-main/store/migrations/' },
    },
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
