// Package house holds no code, only the rules of the house as tests: who may
// import whom, what a pure package may touch, how long a function may get, and
// that README.md and DEVELOPERS.md say what is so. The rules stand in
// policy_test.go as a table; a package that is not in it fails, and so does a row
// without its package.
package house
