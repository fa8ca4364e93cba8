from tests.journal.postgres import postgres, shop_url

__all__ = ["postgres", "shop_url"]
