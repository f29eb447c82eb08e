// Package storetest holds the promises of a store as tests, for any database beneath it.
//
//	Run(t, open) --> what is acknowledged is found again, what failed is not, blindness is proven
package storetest
