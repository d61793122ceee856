package picture

// OrientationOf is the reader of Exif data, for fuzzing.
var OrientationOf = orientationOf
