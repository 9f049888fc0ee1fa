using System.Globalization;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// A length in octets or a count of elements, told by other fields: <c>[Length + 1]</c>, <c>[Number_S + Number_V]</c>, <c>[$rest - 1 / 4]</c>.
/// Evaluated from left to right; <c>$rest</c> is the whole octets left.
/// </summary>
internal sealed class LengthRule
{
    public const string Rest = "$rest";
    private readonly (char Operator, string? Name, long Number)[] _terms;

    private LengthRule((char, string?, long)[] terms) => _terms = terms;

    public bool UsesRest
    {
        get
        {
            foreach ((_, string? name, _) in _terms)
            {
                if (name == Rest)
                    return true;
            }
            return false;
        }
    }

    /// <summary>Returns null if the text is no rule.</summary>
    public static LengthRule? TryParse(string text)
    {
        string[] words = text.Split(' ', StringSplitOptions.RemoveEmptyEntries);
        if (words.Length % 2 == 0)
            return null;
        var terms = new (char, string?, long)[(words.Length + 1) / 2];
        for (int i = 0; i < terms.Length; i++)
        {
            char operation = '+';
            if (i > 0 && (words[(2 * i) - 1] is not ("+" or "-" or "*" or "/") || (operation = words[(2 * i) - 1][0]) == '\0'))
                return null;
            string word = words[2 * i];
            if (char.IsAsciiDigit(word[0]))
            {
                if (!long.TryParse(word, NumberStyles.None, CultureInfo.InvariantCulture, out long number) || (operation == '/' && number == 0))
                    return null;
                terms[i] = (operation, null, number);
            }
            else if (word == Rest || char.IsAsciiLetter(word[0]))
                terms[i] = (operation, word, 0);
            else
                return null;
        }
        return new LengthRule(terms);
    }

    /// <summary>The value, never negative; null if a field that it names is missing.</summary>
    public long? Evaluate(Scope scope, long rest)
    {
        long value = 0;
        foreach ((char operation, string? name, long number) in _terms)
        {
            long operand = number;
            if (name == Rest)
                operand = rest;
            else if (name is not null)
            {
                if (scope.Find(name) is not { } field)
                    return null;
                operand = field.Number;
            }
            value = operation switch
            {
                '+' => value + operand,
                '-' => value - operand,
                '*' => value * operand,
                _ => operand == 0 ? 0 : value / operand,
            };
        }
        return Math.Max(0, value);
    }
}
