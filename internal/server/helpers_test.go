package server_test

import "tautline/unit"

func unitLength(mm float64) unit.Length { return unit.Length(mm) * unit.Millimetre }
