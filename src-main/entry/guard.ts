/**
 * Imported first by every entry: the archive's native module is built for Node-API 10 and ends older processes with a
 * segmentation fault instead of an error, so they are turned away before it is loaded. Electron brings its own loader
 * and is not judged by the number it reports.
 */
const NEEDED_NODE_API = 10

if (process.versions['electron'] === undefined && Number(process.versions['napi']) < NEEDED_NODE_API) {
  process.stderr.write(
    `Slewlight needs Node.js 22.14 or newer; this is ${process.versions.node}. ` +
      'Start it with `npm start` or `npx slewlight`, which bring their own.\n',
  )
  process.exit(1)
}
