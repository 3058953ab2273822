package main

import (
	"encoding/json"
	"fmt"
	"reflect"

	"github.com/spf13/cobra"
)

// tell writes a result as JSON, or as lines for people.
func tell(c *cobra.Command, asJSON bool, v any, lines func() []string) error {
	if asJSON {
		e := json.NewEncoder(c.OutOrStdout())
		e.SetIndent("", "  ")
		return e.Encode(whole(reflect.ValueOf(v)).Interface())
	}
	for _, line := range lines() {
		if _, err := fmt.Fprintln(c.OutOrStdout(), clean(line)); err != nil {
			return err
		}
	}
	return nil
}

// whole is v with an empty list wherever a list is nil, so that who reads the JSON finds a
// list and never null. v itself stays as it is.
func whole(v reflect.Value) reflect.Value {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return v
		}
		p := reflect.New(v.Type().Elem())
		p.Elem().Set(whole(v.Elem()))
		return p
	case reflect.Struct:
		s := reflect.New(v.Type()).Elem()
		s.Set(v)
		for i := range s.NumField() {
			if f := s.Field(i); f.CanSet() {
				f.Set(whole(f))
			}
		}
		return s
	case reflect.Slice:
		l := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			l.Index(i).Set(whole(v.Index(i)))
		}
		return l
	}
	return v
}
