"""Control: what a controller may be asked to do. Pure: values and times in, values out."""
