using System.Globalization;
using MeshTrace.Protocol.Access.Meanings;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// Parses the layout text of a table row (grammar: docs/layout-syntax.md). <c>-</c> and the empty text are a layout without fields.
/// </summary>
internal ref struct LayoutParser
{
    private const int DeepestNesting = 8;   // parts that name each other in a circle end here

    private readonly string _text;
    private readonly string _message;
    private readonly string _group;
    private readonly int _depth;
    private int _at;

    private LayoutParser(string text, string message, string group, int depth)
    {
        _text = text;
        _message = message;
        _group = group;
        _depth = depth;
    }

    /// <param name="text">The layout.</param>
    /// <param name="message">Name of the message or part, and</param>
    /// <param name="group">its group: they find the meanings of fields that the text leaves to the table.</param>
    /// <exception cref="LayoutFormatException">The text is no layout.</exception>
    public static Layout Parse(string text, string message, string group) => Parse(text, message, group, 0);

    internal static Layout Parse(string text, string message, string group, int depth)
    {
        if (text is "" or "-")
            return new Layout(text, []);
        var parser = new LayoutParser(text, message, group, depth);
        if (depth > DeepestNesting)
            throw parser.Expected("parts that do not name each other in a circle");
        LayoutField[] fields = parser.Fields();
        if (parser._at < text.Length)
            throw parser.Expected("',' or the end");
        return new Layout(text, fields);
    }

    private LayoutField[] Fields()
    {
        var fields = new List<LayoutField>();
        do
            fields.Add(Field());
        while (Take(','));
        return [.. fields];
    }

    private LayoutField Field()
    {
        string name = Name();
        FieldForm form;
        int bits = 0;
        Layout? inner = null;
        string? reference = null;
        if (Take('{'))
        {
            form = FieldForm.Group;
            int start = _at;
            LayoutField[] fields = Fields();
            if (!Take('}'))
                throw Expected("'}'");
            inner = new Layout(_text[start..(_at - 1)], fields);
        }
        else if (Take(':'))
            Size(out form, out bits, out inner, out reference);
        else
            throw Expected("':' and a size, or '{'");

        LengthRule? length = Take('[') ? Rule() : null;
        if (length is not null && (bits != 0 || form is FieldForm.ModelByLength or FieldForm.Utf8Number))
            throw Expected("no length for a field that has a size of its own");
        bool isList = Take('*');
        LengthRule? count = isList && Take('[') ? Rule() : null;
        int run = LayoutField.Mandatory;
        if (Take('?'))
            run = _at < _text.Length && char.IsAsciiDigit(_text[_at]) ? _text[_at++] - '0' : 1;
        LayoutCondition? condition = Take('~') ? Condition() : null;
        Meaning? meaning = Take('=') ? InlineMeaning() : FieldMeanings.Find(_message, _group, name);
        return new LayoutField
        {
            Name = name, Form = form, Bits = bits, Inner = inner, Reference = reference, Length = length,
            IsList = isList, Count = count, OptionalRun = run, Condition = condition, Meaning = meaning,
        };
    }

    private void Size(out FieldForm form, out int bits, out Layout? inner, out string? reference)
    {
        bits = 0;
        inner = null;
        reference = null;
        int start = _at;
        if (_at < _text.Length && char.IsAsciiDigit(_text[_at]))
        {
            if (Take("16/32"))
            {
                form = FieldForm.ModelByLength;
                return;
            }
            if (Take("16/24"))
            {
                form = FieldForm.Group;
                inner = PartLayouts.Get("UnicastAddressRange", _depth + 1);
                return;
            }
            while (_at < _text.Length && char.IsAsciiDigit(_text[_at]))
                _at++;
            bits = int.Parse(_text.AsSpan(start, Math.Min(_at - start, 5)), CultureInfo.InvariantCulture);
            form = Take('s') ? FieldForm.Signed
                : Take('f') ? FieldForm.Real
                : Take('o') ? FieldForm.Octets
                : Take('t') ? FieldForm.Text
                : Take('m') ? FieldForm.VendorModel
                : FieldForm.Unsigned;
            bool fits = form switch
            {
                FieldForm.Real or FieldForm.VendorModel => bits == 32,
                FieldForm.Octets or FieldForm.Text => bits is > 0 and <= 3040 && bits % 8 == 0,
                _ => bits is > 0 and <= 64,
            };
            if (!fits)
                throw Expected("a size that this kind of field can have");
            return;
        }
        if (Take('@'))
        {
            form = FieldForm.Group;
            int nameAt = _at;
            inner = PartLayouts.Find(Name(), _depth + 1);
            if (inner is null)
            {
                _at = nameAt;
                throw Expected("the name of a part (table part-layouts)");
            }
            return;
        }
        string word = Name();
        form = word switch
        {
            "var" => FieldForm.Octets,
            "text" => FieldForm.Text,
            "utf8" => FieldForm.Utf8Number,
            "value" => FieldForm.PropertyValue,
            "seriesX" => FieldForm.SeriesX,
            "seriesWidth" => FieldForm.SeriesWidth,
            "seriesY" => FieldForm.SeriesY,
            "access" => FieldForm.AccessMessage,
            _ => FieldForm.Unsigned,
        };
        if (form == FieldForm.Unsigned)
        {
            _at = start;
            throw Expected("a size such as 8, 16s, 32f, 128o, var, text, 16/32, 16/24, utf8, value(...), access, @Part");
        }
        if (form is not (FieldForm.PropertyValue or FieldForm.SeriesX or FieldForm.SeriesWidth or FieldForm.SeriesY))
            return;
        if (!Take('('))
            throw Expected("'(' and the name of the field that holds the property");
        reference = Name();
        if (!Take(')'))
            throw Expected("')'");
    }

    private LengthRule Rule()
    {
        int end = _text.IndexOf(']', _at);
        if (end < 0 || LengthRule.TryParse(_text[_at..end]) is not { } rule)
            throw Expected("a length such as Length + 1, and ']'");
        _at = end + 1;
        return rule;
    }

    private LayoutCondition Condition()
    {
        int end = _text.IndexOf(')', _at);
        if (end < 0 || _text[_at] != '(' || LayoutCondition.TryParse(_text[(_at + 1)..end]) is not { } condition)
            throw Expected("a condition such as (Format=0), in brackets");
        _at = end + 1;
        return condition;
    }

    private Meaning InlineMeaning()
    {
        int start = _at;
        while (_at < _text.Length && _text[_at] is not (',' or '}'))
            _at++;
        if (Meaning.TryParse(_text[start.._at]) is { } meaning)
            return meaning;
        _at = start;
        throw Expected("a meaning: a name of the table meanings, or a factor and a unit such as 0.5 °C");
    }

    private string Name()
    {
        int start = _at;
        while (_at < _text.Length && (char.IsAsciiLetterOrDigit(_text[_at]) || _text[_at] is '_' or '-'))
            _at++;
        if (_at == start)
            throw Expected("a name");
        return _text[start.._at];
    }

    private bool Take(char c)
    {
        if (_at >= _text.Length || _text[_at] != c)
            return false;
        _at++;
        return true;
    }

    private bool Take(string word)
    {
        if (!_text.AsSpan(_at).StartsWith(word, StringComparison.Ordinal))
            return false;
        _at += word.Length;
        return true;
    }

    private readonly LayoutFormatException Expected(string what) => new(_text, _at, "expected " + what);
}
