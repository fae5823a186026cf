"""Trade values: dated data with unit, source and tag, loaded into typed objects."""

from service.trade.values import TradeValue, TradeValues, UnknownTradeValue, load_trade_values

__all__ = ["TradeValue", "TradeValues", "UnknownTradeValue", "load_trade_values"]
