// Package camera photographs printed, filled cards as a phone would, and knows the truth of each photo.
//
//	levels.yaml --Draw(scene, seed)--> Shot --View--> PhotoFromSheet, SheetFromPhoto
//	                                    |      |
//	   Sheet (grey page, px/mm) --------+----Take------> Photo (RGB, JPEG, EXIF)
//	                                    +----TakePatch-> Patch (grey, one part of the sheet)
//
// Fault families (families.yaml) go on from there: DrawFamilies stages a level's photo with one or more of
// them, TakeCards photographs it with every card in it.
//
//	Level + Dose{family, step} --DrawFamilies--> Shot with Staging --View, TakeCards--> Photo, Cards (truths)
//	   paper: mesh kept to its lengths; light: sun, hand and sheet cast shadows; print, sleeve, phone, file
//
// One model gives geometry and light: a bent sheet under a pinhole with radial distortion, lit by one
// lamp or sun and a sky. Blur is measured on paper, noise and tone in the photo.
//
// A Shot is a plain value: the same Shot and Sheet give the same photo, on any machine. The package
// knows no layout: the caller says where rows and marks lie. Nothing needs closing. A View is safe for
// concurrent use.
package camera
