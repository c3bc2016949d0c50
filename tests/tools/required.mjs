// The packages of package.json, from the folder in which tests/run installed them.
import { createRequire } from 'node:module'
import process from 'node:process'

const folder = process.env.TAUTLINE_TEST_NODE_FOLDER
if (!folder) {
  console.error('TAUTLINE_TEST_NODE_FOLDER is not set; run the tests with tests/run, which makes it')
  process.exit(2)
}

export const required = createRequire(`${folder}/package.json`)
