"""What leaves the house: drawings, models, pictures, sheets on paper and the order folder, each written whole."""
