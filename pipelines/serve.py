"""What `dagster` loads for `academy serve`: the definitions of $ACADEMY_HOME."""

from pipelines.definitions import definitions
from warehouse.home import Home

defs = definitions(Home.find())
