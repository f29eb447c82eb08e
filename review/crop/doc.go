// Package crop cuts what people look at out of straightened pages.
//
//	page file + Crop{rectangle in sheet mm} --Cut--> image --PNG--> bytes for page, draft and packet
//
// It knows pixels of straightened pages and nothing else. A Cutter keeps the last few pages decoded;
// nothing needs closing.
package crop
