//go:build !linux

package main

// greatPages is for systems that give great pages on request only.
func greatPages() {}
