"""`python -m dashboard.handouts.week_review`: the week in review; what it holds is made in handouts/week_review.py."""

from dashboard.handouts.week_review import main

if __name__ == "__main__":
    main()
