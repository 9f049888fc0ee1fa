using System.Globalization;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// Whether a field is there, as the values of others say: <c>Format=0</c>, <c>Page=0|128</c>, <c>Filter_Mask.2</c>, <c>!NPPIProcedure</c>,
/// <c>else</c>.
/// </summary>
internal sealed class LayoutCondition
{
    private readonly Term[] _terms;

    private LayoutCondition(Term[] terms) => _terms = terms;

    private enum Test : byte
    {
        Among,
        NotAmong,
        Bit,
        Present,
        Absent,
        Else,
    }

    /// <summary>True if the octets left decide: a writer, who does not know them, goes by the fields that it was given.</summary>
    public bool UsesRest { get; private init; }

    /// <summary>Returns null if the text is no condition.</summary>
    public static LayoutCondition? TryParse(string text)
    {
        string[] parts = text.Split('&', StringSplitOptions.TrimEntries);
        var terms = new Term[parts.Length];
        bool usesRest = false;
        for (int i = 0; i < parts.Length; i++)
        {
            if (Term.TryParse(parts[i]) is not { } term)
                return null;
            terms[i] = term;
            usesRest |= term.UsesRest;
        }
        return new LayoutCondition(terms) { UsesRest = usesRest };
    }

    /// <param name="scope">The fields before.</param>
    /// <param name="name">Name of the field in question, for <c>else</c>: no earlier field of this name is there.</param>
    /// <param name="rest">Whole octets left; null if not known: terms that need it are then taken as true.</param>
    public bool Holds(Scope scope, string name, long? rest)
    {
        foreach (Term term in _terms)
        {
            if (!term.Holds(scope, name, rest))
                return false;
        }
        return true;
    }

    private sealed class Term
    {
        private readonly Test _test;
        private readonly string _name;
        private readonly int _bit;
        private readonly (long From, long To, bool IsRest)[] _alternatives;

        private Term(Test test, string name, int bit = 0, (long, long, bool)[]? alternatives = null)
        {
            _test = test;
            _name = name;
            _bit = bit;
            _alternatives = alternatives ?? [];
            UsesRest = name == LengthRule.Rest || Array.Exists(_alternatives, alternative => alternative.IsRest);
        }

        public bool UsesRest { get; }

        public static Term? TryParse(string text)
        {
            if (text.Length == 0)
                return null;
            if (text == "else")
                return new Term(Test.Else, text);
            if (text[0] == '!')
                return text.Length > 1 && char.IsAsciiLetter(text[1]) ? new Term(Test.Absent, text[1..]) : null;
            if (text[0] != '$' && !char.IsAsciiLetter(text[0]))
                return null;
            int equals = text.IndexOf('=', StringComparison.Ordinal);
            if (equals > 0)
            {
                bool not = text[equals - 1] == '!';
                string name = text[..(not ? equals - 1 : equals)];
                if (name.Length == 0 || (name[0] == '$' && name != LengthRule.Rest))
                    return null;
                string[] words = text[(equals + 1)..].Split('|');
                var alternatives = new (long, long, bool)[words.Length];
                for (int i = 0; i < words.Length; i++)
                {
                    if (!TryParseAlternative(words[i], out alternatives[i]))
                        return null;
                }
                return new Term(not ? Test.NotAmong : Test.Among, name, 0, alternatives);
            }
            int dot = text.IndexOf('.', StringComparison.Ordinal);
            if (dot < 0)
                return text[0] == '$' ? null : new Term(Test.Present, text);
            return int.TryParse(text.AsSpan(dot + 1), NumberStyles.None, CultureInfo.InvariantCulture, out int bit) && bit < 64
                ? new Term(Test.Bit, text[..dot], bit)
                : null;
        }

        public bool Holds(Scope scope, string name, long? rest)
        {
            if (_test == Test.Else)
                return scope.FindHere(name) is null;
            if (UsesRest && rest is null)
                return true;
            if (_name == LengthRule.Rest)
                return Among(rest!.Value, rest.Value) == (_test == Test.Among);
            DecodedField? field = scope.Find(_name);
            return _test switch
            {
                Test.Present => field is not null,
                Test.Absent => field is null,
                Test.Bit => field is not null && ((field.Number >> _bit) & 1) != 0,
                Test.Among => field is not null && Among(field.Number, rest ?? -1),
                _ => field is not null && !Among(field.Number, rest ?? -1),
            };
        }

        private static bool TryParseAlternative(string text, out (long, long, bool) alternative)
        {
            alternative = (0, 0, text == LengthRule.Rest);
            if (alternative.Item3)
                return true;
            int range = text.IndexOf("..", StringComparison.Ordinal);
            if (!Numerals.TryParse(range < 0 ? text : text.AsSpan(0, range), out long from))
                return false;
            long to = from;
            if (range >= 0 && !Numerals.TryParse(text.AsSpan(range + 2), out to))
                return false;
            alternative = (from, to, false);
            return true;
        }

        private bool Among(long value, long rest)
        {
            foreach ((long from, long to, bool isRest) in _alternatives)
            {
                if (isRest ? value == rest : value >= from && value <= to)
                    return true;
            }
            return false;
        }
    }
}
